"""What the pages of fittings show, worded and rounded, so that templates only place it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from catalogue.presentation import run_text
from core.web import display
from core.web.display import number
from fittings.domain.fitting.insoles import INSOLES
from fittings.domain.fitting.matching import PROBABILITY_WORDS
from fittings.domain.fitting.need import GRADE_WORDS, USES, Need
from fittings.domain.fitting.regions import place_words
from fittings.domain.fitting.sizing import size_in
from fittings.domain.fitting.stop_signs import STOP_SIGNS
from fittings.models import Fitting, FollowUp
from fittings.selectors.recommendations import Recommendations, Recommended


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


def need_lines(need: Need) -> NeedLines:
    lines = tuple((item.what, display.signed(item.points, 0)) for item in need.contributions)
    target = f"{number(need.low)} to {number(need.high)}"
    return NeedLines(target, number(need.centre), need.rules, lines)


def recommendation_page(recommendations: Recommendations, units: str) -> RecommendationPage:
    return RecommendationPage(
        recommendations.nothing_in_range,
        tuple(_shoe_line(item, units) for item in recommendations.results),
        tuple((item.slug, recommendations.titles[item.slug], item.why) for item in recommendations.left_out),
        recommendations.width_note,
    )


def _shoe_line(item: Recommended, units: str) -> ShoeLine:
    shoe, suggestion = item.shoe, item.suggestion
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
        warnings=suggestion.warnings,
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
        ("Pain now", display.MISSING if fitting.pain_now is None else f"{fitting.pain_now} of 10"),
        ("Complaints", "; ".join(history) or "none reported"),
        ("Stop signs", _stop_sign_words(fitting)),
        ("Weak hip", yes_no[fitting.hip_weak]),
        ("Shoe worn now", worn_words(fitting)),
        ("Worn in the shoe", INSOLES.get(fitting.insole, "not asked")),
    ]


def size_words(fitting: Fitting, size_eu: Decimal | None) -> str:
    """A size as the customer says it, else as the store writes it."""
    if size_eu is None:
        return display.MISSING
    return size_in(size_eu, fitting.size_system or fitting.store.size_system).replace("EU ", f"EU{display.NO_BREAK}")


def worn_words(fitting: Fitting) -> str:
    shoe = fitting.current_shoe
    if shoe is not None:
        return f"{shoe.brand.name} {shoe.title}"
    text = fitting.current_shoe_text
    return f"{text} (not in the catalogue)" if text else display.MISSING


def _stop_sign_words(fitting: Fitting) -> str:
    if not fitting.stop_signs_asked:
        return "not asked"
    return "; ".join(STOP_SIGNS[code] for code in fitting.stop_signs) or "none of them"


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
    return rows


def _degrees(foot: Any, name: str) -> str:
    """The angle that a grade was made of, with the cut-offs."""
    degrees = getattr(foot, f"{name}_deg", None)
    return "" if degrees is None else f" ({display.number(degrees)}°, {foot.cutoffs.name})"


def _grade(value: int | None) -> str:
    return "not checked" if value is None else f"{value} {GRADE_WORDS[value]}"


@dataclass(frozen=True, slots=True)
class FollowUpLine:
    """One follow-up in a list."""

    pk: int
    fitting_pk: int
    who: str
    shoe: str
    store: str
    weeks: int
    due_on: str
    state: str
    state_class: str
    outcome: str
    reasoning: str = ""


def follow_up_line(follow_up: FollowUp, today: Any) -> FollowUpLine:
    fitting = follow_up.fitting
    shoe = fitting.choice.shoe
    state, state_class = _state(follow_up, today)
    return FollowUpLine(
        pk=follow_up.pk,
        fitting_pk=fitting.pk,
        who=fitting.customer.name if fitting.customer else "",
        shoe=f"{shoe.brand.name} {shoe.title}",
        store=fitting.store.name,
        weeks=follow_up.weeks,
        due_on=display.day(follow_up.due_on),
        state=state,
        state_class=state_class,
        outcome=_outcome_words(follow_up),
        reasoning=follow_up.recurrence_reasoning,
    )


def _state(follow_up: FollowUp, today: Any) -> tuple[str, str]:
    if follow_up.answered_at is not None:
        return "answered", "state--good"
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
