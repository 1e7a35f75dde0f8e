"""The customer's card in words: what was seen, what is advised, and when to come back or to see somebody else."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db.models import prefetch_related_objects
from django.http import HttpRequest
from django.utils import timezone

from catalogue.selectors import band_list
from core.gate.context import units_of
from core.web import display
from fittings.domain.fitting.need import USES, Need
from fittings.domain.shoes.insoles import INSOLE, INSOLES, ORTHOSIS, insole_warning
from fittings.domain.shoes.shoe_age import shoe_age
from fittings.models import Choice, Fitting
from fittings.presentation.fitting import changeover
from fittings.presentation.fitting import fittings as presentation
from fittings.presentation.fitting.cautions import left_out_words
from fittings.presentation.fitting.clinician import reply_lines
from fittings.presentation.fitting.drawings import target_drawing
from fittings.presentation.fitting.looks import fitting_changes
from fittings.selectors.fitting.looks import looks_at
from fittings.selectors.fitting.needs import need_of
from fittings.selectors.fitting.referral import referral_of_fitting, reply_of
from fittings.selectors.fitting.worn import worn_with_card
from fittings.selectors.people.lists import worn_choice

HIP = (
    "In the squat on one leg your hip gave way. Exercises that strengthen the side of the hip are often advised in "
    "that case, such as raising the leg sideways, stepping slowly up and down a low step, or squatting on one leg "
    "while holding on: slowly, without pain, on two or three days a week.",
    "Which of them suit you, and how much, is for a physiotherapist or another licensed clinician to say. Stop when it "
    "hurts.",
)
"""General terms, common practice, no source; own words. It advises nobody in particular."""

CLINICIAN = (
    "pain that lasts longer than two weeks, comes back, or wakes you at night",
    "pain at rest, swelling, numbness or tingling",
    "a sudden pain, a snap or a fall, or when you can’t put weight on the foot",
    "diabetes or lost feeling in the feet together with any sore or open skin: see one the same day",
)
"""When to see a clinician: common practice, no source; local rules and your clinician come first."""

NO_DISTANCE = (
    "We do not know how far you go each week, so we cannot give a date. Check the sole and the heel every few "
    "months, and come back when they are worn or lean to one side."
)


@dataclass(frozen=True, slots=True)
class CardLines:
    """What the card has besides need and shoe."""

    seen: tuple[tuple[str, str, str], ...]
    advised: str
    hip: tuple[str, ...]
    clinician: tuple[str, ...]
    come_back: str
    shoe_age: str


def card_lines(fitting: Fitting, choice: Choice | None, need: Need, *, units: str, today: dt.date) -> CardLines:
    """Word the card. One read for the feet and one for the follow-ups that are to come."""
    seen = [row for row in presentation.feet_rows(fitting, units) if not _is_unseen(row)]
    return CardLines(
        seen=tuple(seen),
        advised=_advised(fitting, need),
        hip=HIP if fitting.hip_weak and not _hurts(fitting) else (),
        clinician=CLINICIAN,
        come_back=_come_back(fitting, choice, today),
        shoe_age=_age_words(fitting, choice, units) if choice else "",
    )


def _hurts(fitting: Fitting) -> bool:
    """Whether a stop sign, pain now, or any other referral speaks against words about exercises."""
    hurts_now = any(item.now for item in fitting.history.all())
    return bool(fitting.stop_signs or fitting.pain_now or hurts_now or referral_of_fitting(fitting).refer)


def _is_unseen(row: tuple[str, str, str]) -> bool:
    return all(value in ("not checked", display.MISSING) for value in row[1:])


def _advised(fitting: Fitting, need: Need) -> str:
    use = USES.get(fitting.use, fitting.use)
    known = fitting.size_eu is not None
    size = f", size {presentation.size_words(fitting, fitting.size_eu)} to start with" if known else ""
    low, high = display.number(need.low, 0), display.number(need.high, 0)
    return f"A shoe for {use} with a measured stability between {low} and {high}{size}. Comfort decides."


def _come_back(fitting: Fitting, choice: Choice | None, today: dt.date) -> str:
    always = "Come back at any time when something rubs, hurts or feels wrong."
    if choice is None:
        return f"Come back to choose a shoe. {always}"
    to_come = fitting.follow_ups.filter(due_on__gt=today).order_by("due_on").first()
    return f"We will ask how it is going on {display.day(to_come.due_on)}. {always}" if to_come else always


def _age_words(fitting: Fitting, choice: Choice, units: str) -> str:
    age = shoe_age(timezone.localdate(choice.at), fitting.distance_km_week)
    if age is None:
        return NO_DISTANCE
    pace, first, last = (
        display.measure(value, "distance", units) for value in (fitting.distance_km_week, age.first_km, age.last_km)
    )
    until = "two years at the latest" if age.capped else display.day(age.last)
    return (
        f"At {pace} a week these shoes reach {first} around {display.day(age.first)} and {last} by {until}: have "
        "them checked between these days. Common practice, no source; shoes differ, and so do people."
    )


def card_context(request: HttpRequest, fitting: Fitting) -> dict[str, Any]:
    """Context of `fittings/_card.html`."""
    # Read once, for what was said and for whether it hurts now.
    prefetch_related_objects([fitting], "history")
    need = need_of(fitting)
    choice = worn_choice(fitting)
    units = units_of(request)
    return {
        "fitting": fitting,
        "choice": choice,
        "facts": presentation.intake_facts(fitting, units),
        "need": presentation.need_lines(need),
        "drawing": target_drawing(need, band_list()),
        "refer": referral_of_fitting(fitting).advice,
        "reply": reply_lines(reply_of(fitting)),
        "left_out_words": left_out_words(need),
        "look_changes": fitting_changes(looks_at(fitting)),
        "card": card_lines(fitting, choice, need, units=units, today=timezone.localdate()),
        "size": presentation.chosen_size(fitting, choice) if choice else "",
        "compared": _compared(fitting, choice, units),
        "change_stop": changeover.STOP,
        "insole": _insole_words(fitting, choice),
    }


def _compared(fitting: Fitting, choice: Choice | None, units: str) -> changeover.Comparison | None:
    """The shoe chosen, by the score that it was chosen with, against the one worn before."""
    if choice is None or fitting.current_shoe is None:
        return None
    worn = worn_with_card(fitting.current_shoe)
    return changeover.comparison(worn.shoe, worn.card, choice.shoe, choice.score_card, units)


def _insole_words(fitting: Fitting, choice: Choice | None) -> str:
    """What is worn in the shoe, whether it was tried so, and what speaks against it; "" where nothing is."""
    if fitting.insole not in (INSOLE, ORTHOSIS):
        return ""
    said = f"Worn in the shoe: {INSOLES[fitting.insole]}"
    if choice is None:
        return f"{said}."
    tried = {item.with_insole for item in fitting.try_ons.all() if item.shoe_id == choice.shoe_id}
    if True in tried:
        said += ", tried in these shoes"
    elif False in tried:
        said += ", not tried in these shoes"
    warning = insole_warning(fitting.insole, choice.shoe.removable_insole)
    return f"{said}. {warning}." if warning else f"{said}."
