"""A customer's page: what was done, chosen and answered, the newest first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from core.web import display
from core.web.display import number, size
from fittings.domain.regions import place_words
from fittings.models import Choice, Fitting, FollowUp, SupersededAnswer
from fittings.models.people.follow_up import UNSCHEDULED
from fittings.presentation.fitting.fittings import (
    FollowUpLine,
    PairLines,
    follow_up_line,
    intake_facts,
    pair_lines,
    with_width,
)

SHOWN = ("Shoes for", "Size", "Pain now", "Complaints", "Stop signs")
"""What a fitting's entry says of the intake."""

YES_NO = {True: "yes", False: "no"}
AMENDED = {
    "wearing": "wears them:",
    "comfort": "comfort",
    "distance_km_week": "km a week",
    "overuse_total": "overuse",
    "days_off": "days off",
    "nothing_hurts": "nothing hurts:",
    "saw_clinician": "saw a clinician:",
    "comment": "comment:",
}
"""How amended answers are named, in their order."""


@dataclass(frozen=True, slots=True)
class AnswerLine:
    """An answered follow-up or a contact, with what was answered and what was amended."""

    pk: int
    is_contact: bool
    line: FollowUpLine
    answered: str
    facts: tuple[tuple[str, str], ...]
    comment: str
    amended: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FittingEntry:
    """One fitting with its pairs, its answers, and the follow-ups that are still open."""

    pk: int
    at: dt.datetime
    store: str
    fitter: str
    target: str
    facts: tuple[tuple[str, str], ...]
    pairs: tuple[PairLines, ...]
    answers: tuple[AnswerLine, ...]
    to_come: tuple[FollowUpLine, ...]


@dataclass(frozen=True, slots=True)
class LastShoe:
    """The shoe that was chosen last and is still worn, as far as we know, and the last answer about it."""

    shoe: str
    size: str
    chosen_on: str
    how: str


def fitting_entry(fitting: Fitting, units: str, today: dt.date) -> FittingEntry:
    facts = dict(intake_facts(fitting, units))
    follow_ups = list(fitting.follow_ups.all())
    answered = sorted((item for item in follow_ups if item.answered_at), key=_moment, reverse=True)
    to_come = [item for item in follow_ups if item.answered_at is None]
    return FittingEntry(
        pk=fitting.pk,
        at=fitting.at,
        store=fitting.store.name,
        fitter=fitting.fitter.display_name,
        target=f"{number(fitting.need_low)} to {number(fitting.need_high)}",
        facts=tuple((name, facts[name]) for name in SHOWN),
        pairs=tuple(pair_lines(list(fitting.choices.all()))),
        answers=tuple(_answer_line(item, today) for item in answered),
        to_come=tuple(follow_up_line(item, today) for item in to_come),
    )


def _moment(follow_up: FollowUp) -> Any:
    return follow_up.answered_at


def _answer_line(follow_up: FollowUp, today: dt.date) -> AnswerLine:
    by = f"recorded by {follow_up.answered_by.display_name}" if follow_up.answered_by else "answered by the customer"
    return AnswerLine(
        pk=follow_up.pk,
        is_contact=follow_up.weeks == UNSCHEDULED,
        line=follow_up_line(follow_up, today),
        answered=f"{display.day(_moment(follow_up))}, {by}",
        facts=answer_facts(follow_up),
        comment=follow_up.comment,
        amended=tuple(_amended_words(item) for item in follow_up.superseded.all()),
    )


def answer_facts(follow_up: FollowUp) -> tuple[tuple[str, str], ...]:
    """What was answered, as names and values; what was not is left out."""
    pains = [_pain_words(pain.region, pain.side, pain.score) for pain in follow_up.pains.all()]
    found = (
        ("Wears them", None if follow_up.wearing is None else YES_NO[follow_up.wearing]),
        ("Comfort", _of(follow_up.comfort, 10)),
        ("Distance a week", None if follow_up.distance_km_week is None else f"{number(follow_up.distance_km_week)} km"),
        ("Pain", "; ".join(pains) or ("nothing hurts" if follow_up.nothing_hurts else None)),
        ("Overuse", _of(follow_up.overuse_total, 100)),
        ("Days off", None if follow_up.days_off is None else str(follow_up.days_off)),
        ("Saw a clinician", None if follow_up.saw_clinician is None else YES_NO[follow_up.saw_clinician]),
    )
    return tuple((name, value) for name, value in found if value is not None)


def _of(value: int | None, most: int) -> str | None:
    return None if value is None else f"{value} of {most}"


def _pain_words(region: str, side: str, score: int) -> str:
    return f"{place_words(region, side or None)} {score} of 10"


def _amended_words(item: SupersededAnswer) -> str:
    pains = [_pain_words(pain["region"], pain["side"], pain["score"]) for pain in item.answers.get("pain", [])]
    given = [
        f"{words} {_said(item.answers.get(name))}"
        for name, words in AMENDED.items()
        if item.answers.get(name) not in (None, "")
    ]
    said = "; ".join([*given, *pains]) or "nothing"
    who, when = item.superseded_by.display_name, display.day(item.superseded_at)
    return f"Amended by {who} on {when}: {item.reason} Before: {said}."


def _said(value: object) -> object:
    # 0 and 1 are numbers here, though Python takes them for False and True.
    return YES_NO[value] if isinstance(value, bool) else value


def last_shoe(fittings: Sequence[Fitting]) -> LastShoe | None:
    """The newest choice that was not taken back, of the fittings as they were read with everything."""
    worn = [
        (choice, fitting)
        for fitting in fittings
        for choice in fitting.choices.all()
        if not hasattr(choice, "correction") and choice.pair == 1
    ]
    if not worn:
        return None
    choice, fitting = max(worn, key=lambda item: item[0].at)
    return LastShoe(
        shoe=f"{choice.shoe.brand.name} {choice.shoe.title}",
        size=with_width(size(choice.size_eu), choice),
        chosen_on=display.day(choice.at),
        how=_how_it_went(choice, fitting),
    )


def _how_it_went(choice: Choice, fitting: Fitting) -> str:
    answers = [item for item in fitting.follow_ups.all() if item.answered_at and item.choice_id in (None, choice.pk)]
    if not answers:
        return "Nothing was answered about it yet."
    newest = max(answers, key=_moment)
    said = ", ".join(f"{name.lower()} {value}" for name, value in answer_facts(newest))
    return f"{display.day(_moment(newest))}: {said or newest.comment or 'no answer to these questions'}."
