"""What the pages of the bench day and of the conditioning log show, worded before the template."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from core.web import display
from labtests.domain.conditions.conditioning import hours_between
from labtests.models import BenchTest, Chamber, ConditioningEntry, Rig
from labtests.selectors.bench.conditioning import ChamberDay, InChamber, TakenOut, logged_of
from labtests.selectors.bench.rigs import CalibrationState, RigState

# Times further away than this are written with their year.
CLOSE_DAYS = 180
NOTED_LATE = dt.timedelta(hours=1)
UNSIGNED = "waits for its second signature"
CALIBRATION_CSS = {
    "unsigned": "state--wait",
    "due soon": "state--wait",
    "overdue": "state--stop",
    "missing": "state--stop",
}


@dataclass(frozen=True, slots=True)
class InChamberLine:
    """A specimen in a chamber, in words."""

    entry: int
    specimen: str
    shoe: str
    what: str
    in_at: str
    hours: str
    ready: str
    tested: int | None


@dataclass(frozen=True, slots=True)
class ChamberLines:
    """A chamber with its two lists."""

    chamber: Chamber
    conditioning: tuple[InChamberLine, ...]
    ready: tuple[InChamberLine, ...]


@dataclass(frozen=True, slots=True)
class TakenOutLine:
    """A specimen on the bench."""

    entry: int
    specimen: str
    shoe: str
    out_at: str
    test_by: str
    is_late: bool


@dataclass(frozen=True, slots=True)
class EntryLine:
    """An entry of the log in a list."""

    entry: int
    specimen: str
    shoe: str
    chamber: str
    in_at: str
    out_at: str
    hours: str
    state: str
    css: str
    noted: str
    note: str


@dataclass(frozen=True, slots=True)
class RigLine:
    """A rig with the quantities that need attention: name, words, class of the mark."""

    rig: Rig
    warnings: tuple[tuple[str, str, str], ...]


def duration(hours: float) -> str:
    """Write a time span to the minute below a day, in days and hours above.

    Examples
    --------
    >>> duration(5.5)
    '5\\xa0h\\xa030\\xa0min'
    """
    minutes = round(abs(hours) * 60)
    if minutes >= 48 * 60:
        days, rest = divmod(round(minutes / 60), 24)
        return f"{days}{display.NO_BREAK}d{display.NO_BREAK}{rest}{display.NO_BREAK}h"
    whole, rest = divmod(minutes, 60)
    if not whole:
        return f"{rest}{display.NO_BREAK}min"
    return f"{whole}{display.NO_BREAK}h{display.NO_BREAK}{rest:02d}{display.NO_BREAK}min"


def near(moment: dt.datetime, now: dt.datetime) -> str:
    """Write a time close to now as one says it: "today, 12:33", "yesterday, 09:00", "24 November, 11:03"."""
    local, today = timezone.localtime(moment), timezone.localtime(now).date()
    names = {-1: "yesterday", 0: "today", 1: "tomorrow"}
    day = names.get((local.date() - today).days, f"{local.day} {local:%B}")
    return f"{day}, {local:%H:%M}" if abs((local.date() - today).days) < CLOSE_DAYS else display.moment(moment)


def chamber_lines(day: ChamberDay, now: dt.datetime) -> ChamberLines:
    return ChamberLines(
        day.chamber,
        conditioning=tuple(_in_chamber_line(one, now) for one in day.conditioning),
        ready=tuple(_in_chamber_line(one, now) for one in day.ready),
    )


def _in_chamber_line(one: InChamber, now: dt.datetime) -> InChamberLine:
    specimen = one.entry.specimen
    left = duration(hours_between(now, one.ready_at))
    return InChamberLine(
        entry=one.entry.pk,
        specimen=specimen.code,
        shoe=f"{specimen.shoe.brand.name} {specimen.shoe.title}",
        what=f"{specimen.side}, {display.size(specimen.size_eu)}",
        in_at=near(one.entry.in_at, now),
        hours=f"{display.number(one.hours)}{display.NO_BREAK}h",
        ready=near(one.ready_at, now) if one.is_ready else f"{near(one.ready_at, now)} (in {left})",
        tested=one.tested,
    )


def taken_out_line(one: TakenOut, now: dt.datetime) -> TakenOutLine:
    specimen = one.entry.specimen
    return TakenOutLine(
        entry=one.entry.pk,
        specimen=specimen.code,
        shoe=f"{specimen.shoe.brand.name} {specimen.shoe.title}",
        out_at=near(one.entry.out_at or now, now),
        test_by=near(one.test_by, now),
        is_late=one.is_late,
    )


def conditioning_place(entry: ConditioningEntry) -> str:
    """Where a specimen that is in a chamber is, and since when."""
    return f"chamber {entry.chamber.code}, since {display.moment(entry.in_at)}"


def entry_line(entry: ConditioningEntry, now: dt.datetime) -> EntryLine:
    state, css = _state_of(entry)
    hours = hours_between(entry.in_at, entry.out_at) if entry.out_at else None
    is_late = entry.noted_at - entry.in_at > NOTED_LATE
    return EntryLine(
        entry=entry.pk,
        specimen=entry.specimen.code,
        shoe=entry.specimen.shoe.title,
        chamber=entry.chamber.code,
        in_at=near(entry.in_at, now),
        out_at=near(entry.out_at, now) if entry.out_at else display.MISSING,
        hours=display.MISSING if hours is None else f"{display.number(hours)}{display.NO_BREAK}h",
        state=state,
        css=css,
        noted=f"noted {duration(hours_between(entry.in_at, entry.noted_at))} later" if is_late else "",
        note=entry.note,
    )


def _state_of(entry: ConditioningEntry) -> tuple[str, str]:
    if entry.struck_at is not None:
        return "struck", "state--off"
    return ("taken out", "state--good") if entry.out_at else ("in the chamber", "state--wait")


def entry_facts(entry: ConditioningEntry) -> list[tuple[str, str]]:
    specimen = entry.specimen
    facts = [
        ("Specimen", f"{specimen.code}, {specimen.side}, {display.size(specimen.size_eu)}"),
        ("Shoe", f"{specimen.shoe.brand.name} {specimen.shoe.title}"),
        ("Chamber", f"{entry.chamber.code} {entry.chamber.name}".strip()),
        ("Put in", f"{display.moment(entry.in_at)}, by {entry.put_in_by.display_name}"),
        ("Noted", display.moment(entry.noted_at)),
    ]
    if entry.out_at and entry.taken_out_by:
        facts.append(("Taken out", f"{display.moment(entry.out_at)}, by {entry.taken_out_by.display_name}"))
        facts.append(
            ("Time in the chamber", f"{display.number(hours_between(entry.in_at, entry.out_at))}{display.NO_BREAK}h")
        )
    if entry.note:
        facts.append(("Note", entry.note))
    if entry.struck_at and entry.struck_by:
        facts.append(("Struck", f"{display.moment(entry.struck_at)}, by {entry.struck_by.display_name}"))
        facts.append(("Why", entry.struck_because))
    return facts


def put_in_words(entry: ConditioningEntry) -> str:
    since = f"{timezone.localtime(entry.in_at):%H:%M} on {display.day(entry.in_at)}"
    return f"{entry.specimen.code} has been in chamber {entry.chamber.code} since {since}."


def taken_out_words(entry: ConditioningEntry) -> str:
    lay = duration(hours_between(entry.in_at, entry.out_at or entry.in_at))
    return f"{entry.specimen.code} was taken out of chamber {entry.chamber.code} after {lay}. Test it within the hour."


def conditioning_words(test: BenchTest) -> str:
    """Whose word the hours of a test are."""
    logged = logged_of(test)
    if logged is None:
        return "as claimed by the file"
    entry = logged.entry
    words = (
        f"computed from the log of chamber {entry.chamber.code}: from {display.moment(logged.since)}, "
        f"taken out {display.moment(entry.out_at) if entry.out_at else 'for the test'}; "
        f"the file claims {display.number(logged.claimed_h)}{display.NO_BREAK}h"
    )
    return f"{words}. That entry was struck: {entry.struck_because}" if entry.struck_at else words


def calibration_words(state: CalibrationState, day: dt.date) -> str:
    """The state of a calibration on a day: "due in 12 days", "out of date since 3 March 2026", "missing", "in date"."""
    calibration = state.calibration
    if calibration is None:
        return "missing"
    if calibration.calibrated_on > day:
        return f"begins on {display.day(calibration.calibrated_on)}"
    if state.state == "in date":
        return "in date"
    if state.state == "unsigned":
        return UNSIGNED
    left = (calibration.due_on - day).days
    if left < 0:
        return f"out of date since {display.day(calibration.due_on + dt.timedelta(days=1))}"
    return "due today" if left == 0 else f"due in {display.count(left, 'day')}"


def rig_lines(states: Sequence[RigState], day: dt.date) -> list[RigLine]:
    """Every rig with what wants attention within 30 days; none where all is in date."""
    return [
        RigLine(
            state.rig,
            tuple(
                (part.quantity, calibration_words(part, day), CALIBRATION_CSS[part.state])
                for part in state.quantities
                if part.state != "in date"
            ),
        )
        for state in states
    ]
