"""Has a complaint come back? Same region and side, after it had settled; early, late or delayed.

Calendar months, both edges inclusive: the consensus text leaves the edges open, so this is our convention.
"""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from fittings.domain.regions import Complaint, place_words

EARLY_MONTHS = 2
LATE_MONTHS = 12

Kind = Literal["early", "late", "delayed"]


@dataclass(frozen=True, slots=True)
class Pain:
    """One report of pain at a follow-up; a score of 0 says that it does not hurt."""

    region: str
    side: str | None
    score: int


@dataclass(frozen=True, slots=True)
class PainDay:
    """What a person answered on one day when asked about pain; no pains and `nothing_hurts` None is no answer."""

    on: date
    pains: tuple[Pain, ...]
    nothing_hurts: bool | None = None

    @property
    def hurts(self) -> bool:
        """Whether a place with a score above 0 was named."""
        return any(pain.score > 0 for pain in self.pains)

    @property
    def assessed(self) -> bool:
        """Whether the question about pain was answered at all."""
        return bool(self.pains) or self.nothing_hurts is not None


@dataclass(frozen=True, slots=True)
class Recurrence:
    """The class of a recurrence (None when there is none) and the reasoning in words."""

    kind: Kind | None
    reasoning: str


def add_months(start: date, months: int) -> date:
    """The same day of the month, `months` later; the last day where the month is shorter.

    Parameters
    ----------
    start : date
        Any day.
    months : int
        How many calendar months later, 0 or more.

    Returns
    -------
    date
        The later day.

    Raises
    ------
    ValueError
        When `months` is negative.

    Examples
    --------
    >>> add_months(date(2024, 12, 31), 2)
    datetime.date(2025, 2, 28)
    """
    if months < 0:
        raise ValueError(f"months must be >= 0, got {months}")
    years, month0 = divmod(start.month - 1 + months, 12)
    year, month = start.year + years, month0 + 1
    return date(year, month, min(start.day, calendar.monthrange(year, month)[1]))


def recurrence_class(settled_on: date, reported_on: date) -> Kind | None:
    """Class of a complaint reported again after it had settled.

    Parameters
    ----------
    settled_on : date
        The day from which the person was free of the complaint.
    reported_on : date
        The day on which it was reported again.

    Returns
    -------
    {"early", "late", "delayed"} or None
        Early up to and including 2 calendar months, late up to and including 12, delayed after; None before
        `settled_on` (a complaint that never settled gets worse, it does not come back).

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] Fuller C.W. et al., Br J Sports Med 40:193 (2006); Clin J Sport Med 17:197 (2007).

    Examples
    --------
    >>> recurrence_class(date(2025, 1, 31), date(2025, 3, 31))
    'early'
    """
    if reported_on < settled_on:
        return None
    if reported_on <= add_months(settled_on, EARLY_MONTHS):
        return "early"
    if reported_on <= add_months(settled_on, LATE_MONTHS):
        return "late"
    return "delayed"


def find_recurrence(
    history: Sequence[Complaint], report: PainDay, *, fitted_on: date, earlier: Sequence[PainDay] = ()
) -> Recurrence:
    """Whether what is reported on a day is a recurrence of something in the person's history.

    Parameters
    ----------
    history : sequence of Complaint
        The complaints stated at the fitting.
    report : PainDay
        What is reported now.
    fitted_on : date
        Day of the fitting; used where the day on which a past complaint settled is not known.
    earlier : sequence of PainDay
        The follow-ups answered before, in any order: a complaint that was there at the fitting counts as settled from
        the first of them whose answer is free of it.

    Returns
    -------
    Recurrence
        The soonest class where several apply, and the reasoning for every complaint that was reported again.

    Raises
    ------
    Nothing.

    Notes
    -----
    Regions are compared by code: "foot" is not taken for "heel". A side that was not stated matches either.

    Examples
    --------
    >>> stated = [Complaint("heel", "left", False, date(2025, 1, 31))]
    >>> find_recurrence(stated, PainDay(date(2025, 4, 1), (Pain("heel", "left", 3),)), fitted_on=date(2025, 2, 10)).kind
    'late'
    """
    judged = [_judge(complaint, report.on, fitted_on, earlier) for complaint in history if _reported(complaint, report)]
    if not report.assessed:
        return Recurrence(None, "The question about pain was not answered, so nothing is known about a recurrence.")
    if not judged:
        return Recurrence(None, "Nothing from the history was reported again.")
    order: tuple[Kind | None, ...] = ("early", "late", "delayed", None)
    kind = min((item.kind for item in judged), key=order.index)
    return Recurrence(kind, " ".join(dict.fromkeys(item.reasoning for item in judged)))


def free_of(history: Sequence[Complaint], report: PainDay) -> bool | None:
    """Whether a person is free of every complaint on a day, where the answer says so.

    Parameters
    ----------
    history : sequence of Complaint
        The complaints stated at the fitting.
    report : PainDay
        What is reported on the day.

    Returns
    -------
    bool or None
        False when one of the complaints is reported, None when the answer leaves one of them open. Without a history
        True, as soon as the question about pain was answered.

    Raises
    ------
    Nothing.

    Notes
    -----
    Silence says nothing. Only the answer that nothing hurts, or a score of 0 for its own place, shows that a complaint
    is not there; pain in another place leaves it open.

    Examples
    --------
    >>> free_of([Complaint("heel")], PainDay(date(2025, 1, 1), (Pain("heel", None, 0),)))
    True
    >>> free_of([Complaint("heel")], PainDay(date(2025, 1, 1), ())) is None
    True
    """
    if not report.assessed:
        return None
    known = [_is_free(complaint, report) for complaint in history]
    if False in known:
        return False
    return None if None in known else True


def _is_free(complaint: Complaint, day: PainDay) -> bool | None:
    if _reported(complaint, day):
        return False
    is_named = any(_same_place(pain, complaint) for pain in day.pains)
    return True if day.nothing_hurts or is_named else None


def _reported(complaint: Complaint, day: PainDay) -> bool:
    return any(pain.score > 0 and _same_place(pain, complaint) for pain in day.pains)


def _same_place(pain: Pain, complaint: Complaint) -> bool:
    return pain.region == complaint.region and _same_side(pain.side, complaint.side)


def _same_side(one: str | None, other: str | None) -> bool:
    return one == other or one in (None, "both") or other in (None, "both")


def _judge(complaint: Complaint, on: date, fitted_on: date, earlier: Sequence[PainDay]) -> Recurrence:
    place = place_words(complaint.region, complaint.side).capitalize()
    if complaint.now:
        settled_on, source = _settled_since(complaint, on, earlier), "free of it at the follow-up of"
    elif complaint.settled_on is None:
        settled_on, source = fitted_on, "day of settling not known, counted from the fitting on"
    else:
        settled_on, source = complaint.settled_on, "settled on"
    if settled_on is None:
        return Recurrence(None, f"{place}: still there since the fitting, so it has not come back.")
    kind = recurrence_class(settled_on, on)
    when = f"{place}: {source} {settled_on.isoformat()}, reported on {on.isoformat()}"
    verdict = "before it had settled, no recurrence" if kind is None else f"{kind} recurrence"
    return Recurrence(kind, f"{when}: {verdict}.")


def _settled_since(complaint: Complaint, on: date, earlier: Sequence[PainDay]) -> date | None:
    free = [day.on for day in earlier if day.on <= on and _is_free(complaint, day)]
    return min(free, default=None)
