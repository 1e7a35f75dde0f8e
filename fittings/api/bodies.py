"""What the API answers, as plain data and as described in its schema."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rest_framework import serializers

from core.web.cautions import cautions
from core.web.display import bare_size
from fittings.domain.fitting.need import Need
from fittings.models import Choice, CorrectionKind, Fitting, FollowUp
from fittings.selectors.fitting.recommendations import Recommendations
from fittings.selectors.people.follow_ups import referral_of
from fittings.services import Corrected


class ContributionOutput(serializers.Serializer[Any]):
    what = serializers.CharField()
    points = serializers.FloatField()


class NeedOutput(serializers.Serializer[Any]):
    """A target on the stability scale; the contributions add up to its centre."""

    rules = serializers.CharField()
    centre = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    contributions = ContributionOutput(many=True)
    left_out = serializers.ListField(child=serializers.CharField())


class TargetOutput(serializers.Serializer[Any]):
    rules = serializers.CharField()
    centre = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    size = serializers.CharField(allow_null=True)


class StockOutput(serializers.Serializer[Any]):
    store = serializers.CharField()
    sizes = serializers.ListField(child=serializers.CharField())


class RecommendedBandOutput(serializers.Serializer[Any]):
    order = serializers.IntegerField()
    name = serializers.CharField()
    probability = serializers.FloatField(allow_null=True)
    borderline = serializers.BooleanField()
    provisional = serializers.BooleanField()


class RecommendedOutput(serializers.Serializer[Any]):
    """One shoe; `probability` is that of its true stability being in the target, null where it is not known."""

    slug = serializers.CharField()
    stability = serializers.FloatField()
    band = RecommendedBandOutput()
    probability = serializers.FloatField(allow_null=True)
    in_target = serializers.BooleanField()
    in_stock = StockOutput(many=True)
    reasons = serializers.ListField(child=serializers.CharField())
    warnings = serializers.ListField(child=serializers.CharField())


class LeftOutOutput(serializers.Serializer[Any]):
    slug = serializers.CharField()
    why = serializers.CharField()


class RecommendationsOutput(serializers.Serializer[Any]):
    target = TargetOutput()
    nothing_in_range = serializers.BooleanField()
    results = RecommendedOutput(many=True)
    left_out = LeftOutOutput(many=True)
    cautions = serializers.ListField(child=serializers.CharField())


class FittingOutput(serializers.Serializer[Any]):
    """A fitting recorded. Without consent `kept` is false and the recommendations are here, for this once."""

    id = serializers.IntegerField()
    kept = serializers.BooleanField()
    need = NeedOutput()
    refer = serializers.BooleanField()
    size = serializers.CharField(allow_null=True)
    cautions = serializers.ListField(child=serializers.CharField())
    recommendations = RecommendationsOutput(allow_null=True)


class FittingRowOutput(serializers.Serializer[Any]):
    """A fitting in a list: no name, no health data."""

    id = serializers.IntegerField()
    store = serializers.CharField()
    at = serializers.DateTimeField()
    kept = serializers.BooleanField()
    chosen = serializers.CharField(allow_null=True)


class FollowUpOutput(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    fitting = serializers.IntegerField()
    store = serializers.CharField()
    shoe = serializers.CharField()
    weeks = serializers.IntegerField()
    due_on = serializers.DateField()
    answered = serializers.BooleanField()


class LinksEndedOutput(serializers.Serializer[Any]):
    fitting = serializers.IntegerField()
    card = serializers.URLField(help_text="The new link of the card.")


class ChoiceOutput(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    pair = serializers.IntegerField(help_text="1 for the pair that the fitting was for, then those chosen beside it.")
    fitting = serializers.IntegerField()
    slug = serializers.CharField()
    size = serializers.CharField()
    width = serializers.CharField(allow_blank=True, help_text="Where the shoe is made in several and it was said.")
    in_target = serializers.BooleanField()
    probability = serializers.FloatField(allow_null=True)
    follow_ups = FollowUpOutput(many=True)
    cautions = serializers.ListField(child=serializers.CharField())


class CorrectedOutput(serializers.Serializer[Any]):
    """A choice taken back. `choice` is its successor, null for a return without a new shoe."""

    replaces = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=CorrectionKind.choices)
    reason = serializers.CharField()
    restocked = serializers.BooleanField()
    id = serializers.IntegerField(allow_null=True, help_text="The successor’s.")
    choice = ChoiceOutput(allow_null=True)
    notes = serializers.ListField(child=serializers.CharField(), help_text="What the stock record could not follow.")


class AnsweredOutput(serializers.Serializer[Any]):
    """What follows from the answers: overuse total 0 to 100, and whether a complaint came back."""

    id = serializers.IntegerField()
    overuse_total = serializers.IntegerField(
        allow_null=True,
        help_text="How much the complaint limits the person, 0 (not at all) to 100; null: not asked.",
    )
    overuse_substantial = serializers.BooleanField(allow_null=True)
    recurrence = serializers.ChoiceField(
        choices=["early", "late", "delayed"],
        allow_null=True,
        help_text="Whether a complaint that had settled came back: within 2 months, 12 months or later; null for no.",
    )
    assessed = serializers.BooleanField(help_text="Whether the question about pain was answered.")
    refer = serializers.BooleanField(help_text="Whether the person is advised to see a licensed clinician.")
    advice = serializers.ListField(child=serializers.CharField(), help_text="Why, for the person; empty without refer.")
    reasoning = serializers.CharField()
    cautions = serializers.ListField(child=serializers.CharField())


def size_text(size_eu: Any) -> str | None:
    return None if size_eu is None else f"EU {bare_size(size_eu)}"


def need_answer(need: Need) -> dict[str, Any]:
    return {
        "rules": need.rules,
        "centre": need.centre,
        "low": need.low,
        "high": need.high,
        "contributions": [{"what": item.what, "points": item.points} for item in need.contributions],
        "left_out": list(need.left_out),
    }


def recommendations_answer(recommendations: Recommendations, spoken: Sequence[str]) -> dict[str, Any]:
    need = recommendations.need
    return {
        "target": {
            "rules": need.rules,
            "centre": need.centre,
            "low": need.low,
            "high": need.high,
            "size": size_text(recommendations.size_eu),
        },
        "nothing_in_range": recommendations.nothing_in_range,
        "results": [
            {
                "slug": item.suggestion.slug,
                "stability": item.suggestion.stability,
                "band": {
                    "order": item.shoe.band.order,
                    "name": item.shoe.band.name,
                    "probability": item.shoe.band.probability,
                    "borderline": item.shoe.band.borderline,
                    "provisional": item.shoe.band.provisional,
                },
                "probability": item.suggestion.probability,
                "in_target": item.suggestion.in_target,
                "in_stock": [
                    {"store": store.slug, "sizes": [size_text(size) for size in store.sizes]} for store in item.in_stock
                ],
                "reasons": list(item.suggestion.reasons),
                "warnings": list(item.suggestion.warnings),
            }
            for item in recommendations.results
        ],
        "left_out": [{"slug": item.slug, "why": item.why} for item in recommendations.left_out],
        "cautions": list(spoken),
    }


def fitting_row(fitting: Fitting) -> dict[str, Any]:
    choice = getattr(fitting, "choice", None)
    return {
        "id": fitting.pk,
        "store": fitting.store.slug,
        "at": fitting.at,
        "kept": fitting.kept,
        "chosen": choice.shoe.slug if choice else None,
    }


def follow_up_row(follow_up: FollowUp, choice: Choice) -> dict[str, Any]:
    return {
        "id": follow_up.pk,
        "fitting": follow_up.fitting_id,
        "store": follow_up.fitting.store.slug,
        "shoe": choice.shoe.slug,
        "weeks": follow_up.weeks,
        "due_on": follow_up.due_on,
        "answered": follow_up.answered_at is not None,
    }


def choice_answer(choice: Choice, follow_ups: Sequence[FollowUp]) -> dict[str, Any]:
    return {
        "id": choice.pk,
        "pair": choice.pair,
        "fitting": choice.fitting_id,
        "slug": choice.shoe.slug,
        "size": size_text(choice.size_eu),
        "width": choice.width,
        "in_target": choice.in_target,
        "probability": choice.probability,
        "follow_ups": [follow_up_row(follow_up, choice) for follow_up in follow_ups],
        "cautions": list(cautions("recommendation")),
    }


def corrected_answer(corrected: Corrected, follow_ups: Sequence[FollowUp]) -> dict[str, Any]:
    correction, successor = corrected.correction, corrected.successor
    return {
        "replaces": correction.choice_id,
        "kind": correction.kind,
        "reason": correction.note,
        "restocked": correction.restocked,
        "id": successor.pk if successor else None,
        "choice": choice_answer(successor, follow_ups) if successor else None,
        "notes": list(corrected.stock_notes),
    }


def answered_answer(follow_up: FollowUp) -> dict[str, Any]:
    assessment = referral_of(follow_up)
    return {
        "id": follow_up.pk,
        "overuse_total": follow_up.overuse_total,
        "overuse_substantial": follow_up.overuse_substantial,
        "recurrence": follow_up.recurrence or None,
        "assessed": assessment.assessed,
        "refer": assessment.refer,
        "advice": list(assessment.advice),
        "reasoning": follow_up.recurrence_reasoning,
        "cautions": list(cautions("outcome")),
    }
