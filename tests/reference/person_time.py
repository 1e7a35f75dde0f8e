"""How long, over what distance and in which shoes a complaint of a person could have come back: plain and slow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

DAYS_PER_WEEK = 7.0

Place = tuple[str, str]
"""Region and side; an empty side was not stated."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """A shoe chosen at a fitting or by an exchange: when, and the complaints recorded with whether each was there."""

    on: date
    complaints: tuple[tuple[Place, bool], ...]


@dataclass(frozen=True, slots=True)
class Answered:
    """One answered follow-up: day, distance a week (km), places with scores, and what was said of pain at all.

    A contact outside the schedule says "there" of what it names with a score above 0, and nothing else.
    """

    on: date
    distance_km_week: float | None
    pains: tuple[tuple[Place, int], ...]
    nothing_hurts: bool | None
    scheduled: bool = True


@dataclass(frozen=True, slots=True)
class Part:
    """The part of a course in one shoe: from when to when in days of the course, km, whether it came back in it."""

    fitting: int
    place: Place
    entered: int
    free_until: int
    days: int
    km: float | None
    recurred: bool


def parts_of(fittings: Sequence[Fitted], answers: Sequence[Answered]) -> list[Part]:
    """Time and distance at risk of one person, complaint by complaint and shoe by shoe.

    Parameters
    ----------
    fittings : sequence of Fitted
        In the order of their days.
    answers : sequence of Answered
        Follow-ups of any of the fittings, in any order.

    Returns
    -------
    list of Part
        By place and fitting; none of a complaint that was never at risk while something was known of it.

    Raises
    ------
    Nothing.

    Notes
    -----
    A course begins at the first fitting with the complaint where it had settled, otherwise on the first day known to
    be free of it. Every km counts, whether in the chosen shoe or not: people are compared as they chose. A day on which
    the complaint is neither named nor nothing hurts says nothing of it.
    """
    told = {place for fitting in fittings for place, _ in fitting.complaints}
    places = sorted({_course_of(place, told) for place in told})
    return [part for place in places for part in _parts(place, fittings, answers)]


def _course_of(place: Place, told: set[Place]) -> Place:
    """One side stated nowhere makes all complaints of the region one."""
    region, side = place
    is_open = any(other[0] == region and other[1] in ("", "both") for other in told)
    return (region, "" if is_open else side)


def _parts(place: Place, fittings: Sequence[Fitted], answers: Sequence[Answered]) -> list[Part]:
    known = _known_days(place, fittings, answers)
    start = min((day for day, hurts in known.items() if not hurts), default=None)
    if start is None:
        return []
    later = {day: hurts for day, hurts in known.items() if day > start}
    if not later:
        return []
    back = min((day for day, hurts in later.items() if hurts), default=None)
    end = back or max(later)
    free = max((day for day in later if back is None or day < back), default=start)
    weekly = _weekly(answers)
    km_known = all(_distance_on(day, weekly) is not None for day in _days(start, end))
    parts = []
    for index, fitting in enumerate(fittings):
        begin = max(start, fitting.on)
        until = min([end, *(other.on for other in fittings[index + 1 : index + 2])])
        if begin >= until:
            continue
        km = sum(_distance_on(day, weekly) or 0.0 for day in _days(begin, until)) if km_known else None
        days = [(moment - start).days for moment in (begin, min(free, until), until)]
        parts.append(Part(index, place, *days, km, until == back))
    return parts


def _known_days(place: Place, fittings: Sequence[Fitted], answers: Sequence[Answered]) -> dict[date, bool]:
    """Days on which something is known of a complaint, and whether it was there; "there" prevails on one day."""
    known: dict[date, bool] = {}
    told = [
        (fitting.on, any(now for said, now in fitting.complaints if _same(place, said)))
        for fitting in fittings
        if any(_same(place, said) for said, _ in fitting.complaints)
    ]
    first = told[0][0]
    said = [(answer.on, _said(place, answer)) for answer in answers if answer.on >= first]
    for day, hurts in [*told, *said]:
        if hurts is not None:
            known[day] = known.get(day, False) or hurts
    return known


def _said(place: Place, answer: Answered) -> bool | None:
    scores = [score for named, score in answer.pains if _same(place, named)]
    if any(scores):
        return True
    if not answer.scheduled:
        return None
    return False if scores or answer.nothing_hurts else None


def _same(one: Place, other: Place) -> bool:
    return one[0] == other[0] and (one[1] == other[1] or bool({one[1], other[1]} & {"", "both"}))


def _weekly(answers: Sequence[Answered]) -> dict[date, float | None]:
    """Distance a week by the day on which it was asked."""
    scheduled = [answer for answer in answers if answer.scheduled]
    asked: dict[date, list[float]] = {answer.on: [] for answer in scheduled}
    for answer in scheduled:
        if answer.distance_km_week is not None:
            asked[answer.on].append(answer.distance_km_week)
    return {day: sum(told) / len(told) if told else None for day, told in asked.items()}


def _days(begin: date, end: date) -> list[date]:
    """Every day after the first one, the last one with it."""
    return [date.fromordinal(day) for day in range(begin.toordinal() + 1, end.toordinal() + 1)]


def _distance_on(day: date, weekly: dict[date, float | None]) -> float | None:
    """The km of one day: those a week told at the next follow-up; None where it told none, or none was answered."""
    next_asked = min((asked for asked in weekly if asked >= day), default=None)
    told = None if next_asked is None else weekly[next_asked]
    return None if told is None else told / DAYS_PER_WEEK
