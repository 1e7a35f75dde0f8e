"""What the pages of fittings show, worded and rounded, so that templates only place it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from typing import Any

from catalogue.presentation import run_text
from core.web import display
from core.web.display import number
from fittings.domain.fitting.need import GRADE_WORDS, USES, Need
from fittings.domain.regions import place_words
from fittings.domain.shoes.insoles import INSOLES
from fittings.domain.shoes.matching import PROBABILITY_WORDS
from fittings.domain.shoes.sizing import size_in
from fittings.domain.shoes.widths import foot_width
from fittings.models import Choice, ClinicianReply, Correction, Fitting, FollowUp, FootObservation
from fittings.presentation.fitting.clinician import insole_words, reply_headline
from fittings.selectors.fitting.recommendations import Recommendations, Recommended
from fittings.selectors.fitting.referral import stop_sign_words


@dataclass(frozen=True, slots=True)
class NeedLines:
    """The need in words, with a line for each contribution."""

    target: str
    centre: str
    rules: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ShoeLine:
    """One recommended shoe."""

    slug: str
    title: str
    band: Any
    score: Any
    probability: str
    facts: tuple[tuple[str, str], ...]
    stock: tuple[str, ...]
    reasons: tuple[str, ...]
    warnings: tuple[str, ...]
    in_target: bool


@dataclass(frozen=True, slots=True)
class RecommendationPage:
    nothing_in_range: bool
    shoes: tuple[ShoeLine, ...]
    left_out: tuple[tuple[str, str, str], ...]
    width_note: str
    clinician: str = ""


def need_lines(need: Need) -> NeedLines:
    lines = tuple((item.what, display.signed(item.points, 0)) for item in need.contributions)
    target = f"{number(need.low)} to {number(need.high)}"
    return NeedLines(target, number(need.centre), need.rules, lines)


def recommendation_page(
    recommendations: Recommendations, units: str, reply: ClinicianReply | None = None
) -> RecommendationPage:
    """Word the recommendations; what a clinician asks for is named first, as the clinician's."""
    return RecommendationPage(
        recommendations.nothing_in_range,
        tuple(_shoe_line(item, units, reply) for item in recommendations.results),
        tuple((item.slug, recommendations.titles[item.slug], item.why) for item in recommendations.left_out),
        recommendations.width_note,
        reply_headline(reply),
    )


def _shoe_line(item: Recommended, units: str, reply: ClinicianReply | None) -> ShoeLine:
    shoe, suggestion = item.shoe, item.suggestion
    insole = insole_words(reply, shoe.removable_insole)
    facts = (
        ("Cushioning", number(shoe.cushioning.value)),
        ("Drop", display.measure(shoe.drop_mm, "length", units)),
        ("Mass", display.measure(shoe.mass_g, "mass", units)),
    )
    return ShoeLine(
        slug=shoe.slug,
        title=shoe.title,
        band=shoe.band,
        score=shoe.stability,
        probability=display.probability(suggestion.probability),
        facts=facts,
        stock=tuple(f"{store.name}: {run_text(store.sizes)}" for store in item.in_stock),
        # The probability has a place of its own.
        reasons=tuple(reason for reason in suggestion.reasons if not reason.endswith(PROBABILITY_WORDS)),
        warnings=(*([insole] if insole else []), *suggestion.warnings),
        in_target=suggestion.in_target,
    )


def intake_facts(fitting: Fitting, units: str) -> list[tuple[str, str]]:
    """The answers given at a fitting, as names and values."""
    yes_no = {True: "yes", False: "no", None: display.MISSING}
    history = [
        place_words(item.region, item.side or None) + _settled_words(item.now, item.settled_on)
        for item in fitting.history.all()
    ]
    return [
        ("Shoes for", USES.get(fitting.use, fitting.use)),
        ("Size", size_words(fitting, fitting.size_eu)),
        ("Body mass", display.measure(fitting.body_mass_kg, "body_mass", units)),
        ("Distance a week", display.measure(fitting.distance_km_week, "distance", units)),
        ("Pain now", _pain_words(fitting)),
        ("Complaints", "; ".join(history) or "none reported"),
        ("Stop signs", _stop_sign_words(fitting)),
        ("Weak hip", yes_no[fitting.hip_weak]),
        ("Shoe worn now", worn_words(fitting)),
        ("Worn in the shoe", INSOLES.get(fitting.insole, "not asked")),
    ]


def _pain_words(fitting: Fitting) -> str:
    weeks = fitting.pain_weeks
    since = "" if weeks is None else f"for {weeks} {'week' if weeks == 1 else 'weeks'}"
    pain = "" if fitting.pain_now is None else f"{fitting.pain_now} of 10"
    return ", ".join(words for words in (pain, since) if words) or display.MISSING


def size_words(fitting: Fitting, size_eu: Decimal | None) -> str:
    """A size as the customer says it, else as the store writes it."""
    if size_eu is None:
        return display.MISSING
    return size_in(size_eu, fitting.size_system or fitting.store.size_system).replace("EU ", f"EU{display.NO_BREAK}")


def chosen_size(fitting: Fitting, choice: Choice) -> str:
    """The size of a pair, with its width where that was recorded."""
    return with_width(size_words(fitting, choice.size_eu), choice)


def with_width(words: str, choice: Choice) -> str:
    return f"{words}, width {choice.width}" if choice.width else words


def worn_words(fitting: Fitting) -> str:
    shoe = fitting.current_shoe
    if shoe is not None:
        return f"{shoe.brand.name} {shoe.title}"
    text = fitting.current_shoe_text
    return f"{text} (not in the catalogue)" if text else display.MISSING


def _stop_sign_words(fitting: Fitting) -> str:
    if not fitting.stop_signs_asked:
        return "not asked"
    return "; ".join(stop_sign_words(fitting)) or "none of them"


def _settled_words(now: bool, settled_on: Any) -> str:
    if now:
        return " (there now)"
    return f" (settled {display.day(settled_on)})" if settled_on else " (settled, day not known)"


def feet_rows(fitting: Fitting, units: str) -> list[tuple[str, str, str]]:
    """What we observed of the feet: observation, left, right."""
    feet = {foot.foot: foot for foot in fitting.feet.select_related("cutoffs")}
    rows = []
    for label, name, worded in (
        ("Pronation", "pronation", _grade),
        ("Tibial rotation", "tibial_rotation", _grade),
        ("Rearfoot eversion", "rearfoot_eversion", _grade),
        ("Foot Posture Index", "fpi6", lambda value: display.signed(value, 0)),
        ("Navicular drop", "navicular_drop_mm", lambda value: display.measure(value, "length", units)),
        ("Length", "length_mm", lambda value: display.measure(value, "length", units)),
        ("Width", "width_mm", lambda value: display.measure(value, "length", units)),
    ):
        left, right = (
            worded(getattr(feet.get(side), name, None)) + _degrees(feet.get(side), name) for side in ("left", "right")
        )
        rows.append((label, left, right))
    return [*rows, ("Width for the length", _width_asked(feet.get("left")), _width_asked(feet.get("right")))]


def _width_asked(foot: FootObservation | None) -> str:
    """Which width the foot asks for; common practice, no source."""
    return foot_width([(foot.length_mm, foot.width_mm)] if foot else []) or display.MISSING


def _degrees(foot: Any, name: str) -> str:
    """The angle that a grade was made of, with the cut-offs."""
    degrees = getattr(foot, f"{name}_deg", None)
    return "" if degrees is None else f" ({display.number(degrees)}°, {foot.cutoffs.name})"


def _grade(value: int | None) -> str:
    return "not checked" if value is None else f"{value} {GRADE_WORDS[value]}"


def advised_lines(fitting: Fitting) -> tuple[str, ...]:
    """The shoes shown at a fitting, by the scores of then."""
    return tuple(
        f"{item['title']}: stability {number(item['stability'])}, "
        + ("in the target" if item["in_target"] else "outside the target")
        + ("" if item["probability"] is None else f", {display.probability(item['probability'])} probability")
        for item in fitting.advised or ()
    )


@dataclass(frozen=True, slots=True)
class ChoiceLine:
    """One choice in the history of a pair; `can_correct` for the newest."""

    pk: int
    shoe: str
    size: str
    chosen_on: str
    comfort: str
    target: str
    in_target: bool
    reason: str
    ended: str
    note: str
    can_correct: bool


@dataclass(frozen=True, slots=True)
class PairLines:
    """A pair with its choices, the newest first."""

    number: int
    choices: tuple[ChoiceLine, ...]


def pair_lines(choices: Sequence[Choice]) -> list[PairLines]:
    """The pairs of a fitting, of its choices by pair, each pair's newest first."""
    pairs = groupby(choices, key=lambda choice: choice.pair)
    return [PairLines(number, tuple(choice_line(choice) for choice in group)) for number, group in pairs]


def choice_line(choice: Choice) -> ChoiceLine:
    correction: Correction | None = getattr(choice, "correction", None)
    inside = "in the target" if choice.in_target else "outside the target"
    probability = display.probability(choice.probability)
    return ChoiceLine(
        pk=choice.pk,
        shoe=f"{choice.shoe.brand.name} {choice.shoe.title}",
        size=chosen_size(choice.fitting, choice),
        chosen_on=display.day(choice.at),
        comfort="" if choice.comfort is None else f"comfort {choice.comfort} of 10",
        target=f"stability {number(choice.stability)}, {inside}"
        + (f" with {probability} probability" if choice.in_target and choice.probability is not None else ""),
        in_target=choice.in_target,
        reason=choice.reason,
        ended="" if correction is None else _ended_words(correction),
        note="" if correction is None else correction.note,
        can_correct=correction is None,
    )


def _ended_words(correction: Correction) -> str:
    return f"{correction.get_kind_display()} on {display.day(correction.at)}, {correction.by.display_name}"


@dataclass(frozen=True, slots=True)
class FollowUpLine:
    """One follow-up in a list."""

    pk: int
    fitting_pk: int
    who: str
    shoe: str
    store: str
    weeks: int
    after: str
    due_on: str
    state: str
    state_class: str
    outcome: str
    reasoning: str = ""


def follow_up_line(follow_up: FollowUp, today: Any) -> FollowUpLine:
    fitting = follow_up.fitting
    choice = follow_up.choice or fitting.choice
    shoe = f"{choice.shoe.brand.name} {choice.shoe.title}" if choice else ""
    state, state_class = _state(follow_up, today)
    return FollowUpLine(
        pk=follow_up.pk,
        fitting_pk=fitting.pk,
        who=fitting.customer.name if fitting.customer else "",
        shoe=shoe,
        store=fitting.store.name,
        weeks=follow_up.weeks,
        after=follow_up.get_weeks_display(),
        due_on=display.day(follow_up.due_on),
        state=state,
        state_class=state_class,
        outcome=_outcome_words(follow_up),
        reasoning=follow_up.recurrence_reasoning,
    )


def _state(follow_up: FollowUp, today: Any) -> tuple[str, str]:
    if follow_up.answered_at is not None:
        return "answered", "state--good"
    if follow_up.closed_at is not None:
        return "closed: returned", "state--off"
    if follow_up.due_on > today:
        return "to come", ""
    if getattr(follow_up, "lapsed", False):
        return "closed: a later one is due", "state--off"
    return ("reminded", "state--wait") if follow_up.sent_at else ("due", "state--wait")


def _recurrence_words(follow_up: FollowUp) -> str:
    if follow_up.recurrence:
        return f"{follow_up.recurrence} recurrence"
    return "no recurrence" if follow_up.free_of_complaints is not None else "recurrence not known"


def _outcome_words(follow_up: FollowUp) -> str:
    if follow_up.answered_at is None:
        return ""
    said = [_recurrence_words(follow_up)]
    if follow_up.overuse_total is not None:
        said.append(f"overuse {follow_up.overuse_total} of 100")
    return ", ".join(said)
