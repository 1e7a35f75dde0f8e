"""Shapes of the incidents' API."""

from __future__ import annotations

import datetime as dt
from typing import Any

from rest_framework import serializers

from core.web.strict import Text
from labtests.models import CalibratedQuantity, IncidentEffect

DAY_LENGTH = len("2026-03-04")


class Moment(serializers.DateTimeField):
    """A time with its offset from UTC, or a day: then its beginning, or its end where `is_end`."""

    def __init__(self, *, is_end: bool = False, **options: Any) -> None:
        super().__init__(**options)
        self.is_end = is_end

    def to_internal_value(self, value: Any) -> Any:
        day = parse_day(value) if isinstance(value, str) else None
        if day is None:
            return super().to_internal_value(value)
        moment = dt.datetime.combine(day, dt.time.max if self.is_end else dt.time.min)
        return super().to_internal_value(moment)


def parse_day(text: str) -> dt.date | None:
    """Read a day as 2026-03-04; None for anything else."""
    try:
        return dt.datetime.strptime(text, "%Y-%m-%d").date() if len(text) == DAY_LENGTH else None  # noqa: DTZ007
    except ValueError:
        return None


class IncidentInput(serializers.Serializer[Any]):
    """A quantity of a rig that was wrong for some time."""

    rig = serializers.CharField(max_length=64, help_text="Code of the rig.")
    quantity = serializers.ChoiceField(choices=[str(value) for value in CalibratedQuantity.values])
    reason = Text(
        max_length=2000,
        help_text="Why. It is shown on the public pages of shoes that are withdrawn, and to the stores.",
    )
    effect = serializers.ChoiceField(
        choices=[str(value) for value in IncidentEffect.values],
        default=str(IncidentEffect.DOUBT),
        help_text="Put the tests in doubt, to be decided on one by one, or void them.",
    )
    dry_run = serializers.BooleanField(
        default=True,
        help_text="Only say what would be touched. False carries it out, which a reviewer may.",
    )
    propose = serializers.BooleanField(
        default=False, help_text="With `dry_run` false: propose it to the reviewers, who carry it out."
    )

    def get_fields(self) -> dict[str, Any]:
        # "from" is a word of Python, so these are put in here.
        found = super().get_fields()
        found["from"] = Moment(help_text="The first time at which it was wrong, or a day.")
        found["to"] = Moment(is_end=True, help_text="The last time, or a day, which counts as a whole.")
        return found


class IncidentDecision(serializers.Serializer[Any]):
    """A reviewer's decision on a proposed incident."""

    decision = serializers.ChoiceField(choices=["carry_out", "dismiss"])
    reason = Text(required=False, allow_blank=True, default="", max_length=2000, help_text="Needed to dismiss it.")


class IncidentWithdrawal(serializers.Serializer[Any]):
    """Why the person who made a proposal takes it back."""

    reason = Text(max_length=2000)


class LabTouchedTest(serializers.Serializer[Any]):
    """A test that is taken back, and its state before."""

    id = serializers.IntegerField()
    state = serializers.CharField()
    shoe = serializers.CharField()
    specimen = serializers.CharField()
    performed = serializers.DateTimeField()


class LabTouchedTests(serializers.Serializer[Any]):
    """How many tests, and the first 500 of them."""

    count = serializers.IntegerField()
    results = LabTouchedTest(many=True)


class LabTouchedShoe(serializers.Serializer[Any]):
    """A published shoe whose card changes."""

    slug = serializers.CharField()
    name = serializers.CharField()
    becomes = serializers.ChoiceField(choices=["withdrawn", "recomputed"])
    stability = serializers.FloatField()
    stability_then = serializers.FloatField(allow_null=True)
    band = serializers.CharField()
    band_then = serializers.CharField(allow_null=True)
    because = serializers.ListField(child=serializers.CharField(), help_text="Why it is withdrawn.")


class LabTouchedShoes(serializers.Serializer[Any]):
    """How many published shoes, and the first 500 of them."""

    count = serializers.IntegerField()
    results = LabTouchedShoe(many=True)


class LabTouchedWallCard(serializers.Serializer[Any]):
    """A wall card that hangs in a store and is out of date."""

    store = serializers.CharField()
    shoe = serializers.CharField()
    run = serializers.IntegerField()
    printed_at = serializers.DateTimeField()


class LabTouchedWallCards(serializers.Serializer[Any]):
    """How many wall cards, and the first 500 of them."""

    count = serializers.IntegerField()
    results = LabTouchedWallCard(many=True)


class LabTouchedStore(serializers.Serializer[Any]):
    """A store with such a shoe in stock, on the wall or in a fitting."""

    slug = serializers.CharField()
    name = serializers.CharField()


class LabTouchedStores(serializers.Serializer[Any]):
    """How many stores, and the first 500 of them."""

    count = serializers.IntegerField()
    results = LabTouchedStore(many=True)


class LabTouchedFittings(serializers.Serializer[Any]):
    """Counts alone: each store sees its own people."""

    count = serializers.IntegerField()
    customers = serializers.IntegerField(help_text="Customers who agreed to be recorded.")


class LabTouched(serializers.Serializer[Any]):
    """What an incident touches."""

    tests = LabTouchedTests()
    shoes = LabTouchedShoes()
    wall_cards = LabTouchedWallCards()
    stores = LabTouchedStores()
    fittings = LabTouchedFittings()


class LabIncident(LabTouched):
    """An incident, and what it touches."""

    id = serializers.IntegerField()


class LabIncidentProposal(LabIncident):
    """An incident that waits for a reviewer, and what it would touch now."""

    detail = serializers.CharField(help_text="What happens next, and who may decide.")


class LabIncidentDecided(serializers.Serializer[Any]):
    """What became of an incident."""

    id = serializers.IntegerField()
    state = serializers.CharField(help_text="carried_out or dismissed, which a withdrawn one is too.")
    decided_by = serializers.CharField()
    reason = serializers.CharField()
