"""What may be shown of the people of all stores: whose follow-ups are over, by whole quarters, with noise on counts.

One selection of people must not be set against another to learn of a single person. So people enter by whole quarters
and once their follow-ups are over (day against day nothing changes), selections that differ from others by too few
people are not shown (filter against filter), and the same people always get the same noise (everything else).
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from core.models import Store
from fittings.domain.outcomes.differencing import smallest_difference
from fittings.domain.outcomes.rates import SMALL_CELL
from fittings.models.follow_up import WEEKS
from fittings.selectors import noise
from fittings.selectors.courses import (
    GROUPINGS,
    LOST_AFTER_DAYS,
    DayCount,
    FittingCourse,
    OutcomeFilter,
    courses_sql,
    rows_of,
)

QUARTERS_BACK = 8
"""How many quarters a selection goes back where its newest people are too few."""


def quarter_of(day: dt.date) -> int:
    """Quarters since year 0."""
    return day.year * 4 + (day.month - 1) // 3


def quarter_start(quarter: int) -> dt.date:
    return dt.date(quarter // 4, quarter % 4 * 3 + 1, 1)


def released_until(on: dt.date) -> dt.date:
    """The first day of choices not shown over all stores yet: the last follow-up of all before is over."""
    return quarter_start(quarter_of(on - dt.timedelta(weeks=max(WEEKS), days=LOST_AFTER_DAYS)))


def in_quarters(since: dt.date | None, until: dt.date | None, on: dt.date) -> dict[str, dt.date | None]:
    """A period widened to whole quarters, up to what is shown."""
    last = released_until(on)
    end = last if until is None else min(last, quarter_start(quarter_of(until - dt.timedelta(days=1)) + 1))
    return {"since": since and quarter_start(quarter_of(since)), "until": end}


@dataclass(frozen=True, slots=True)
class Released:
    """A selection as it is shown, and the groups of it that are."""

    wanted: OutcomeFilter
    keys: frozenset[Any]
    is_whole: bool


def released(wanted: OutcomeFilter, by: str, *, on: dt.date) -> Released:
    """Narrow a selection to what may be shown: two queries.

    Each group must differ from the same group of every wider selection, and from itself a quarter ago, by nobody or by
    at least five people, of all and of those at risk. Where the newest people are fewer, the selection goes back to the
    quarter in which they were not.
    """
    last = released_until(on)
    parts = list(_parts(wanted, by, last, on=on))
    start = quarter_of(wanted.since) if wanted.since else None
    stop = quarter_of(wanted.until or last)
    is_open = stop == quarter_of(last)
    for back in range(QUARTERS_BACK if is_open else 1):
        shown = frozenset(part.key for part in parts if part.is_shown(start, stop - back, stop - back))
        if all(part.key in shown for part in parts if part.has_people):
            return Released(replace(wanted, until=quarter_start(stop - back)), shown, is_whole=True)
    shown = frozenset(part.key for part in parts if part.is_shown(start, stop, quarter_of(last)))
    return Released(replace(wanted, until=quarter_start(stop)), shown, is_whole=False)


def released_filter(wanted: OutcomeFilter, *, on: dt.date) -> OutcomeFilter:
    """The people of a selection who may be looked at, in the target and outside it; nobody where some may not."""
    shown = released(wanted, "target", on=on)
    return shown.wanted if shown.is_whole else replace(shown.wanted, stores=())


@dataclass(frozen=True, slots=True)
class _Part:
    """A group of people, all and those at risk, by conditions and quarter; `first` is the first column's quarter."""

    key: Any
    counts: tuple[np.ndarray[Any, np.dtype[np.int64]], ...]
    first: int

    @property
    def has_people(self) -> bool:
        return any(people[(1,) * (people.ndim - 1)].any() for people in self.counts)

    def is_shown(self, start: int | None, stop: int, last: int) -> bool:
        begin = max(0, (self.first if start is None else start) - self.first)
        places = [people[..., : last - self.first] for people in self.counts]
        if begin >= min(stop, last) - self.first:
            return False
        differences = [smallest_difference(people, begin, stop - self.first) for people in places]
        return all(apart is None or apart >= SMALL_CELL for apart in differences)


_CROSS = """
SELECT {key}, days IS NOT NULL, extract(year FROM chosen_on)::int * 4 + extract(quarter FROM chosen_on)::int - 1,
    {conditions}, count(*)
FROM course GROUP BY {places}
"""
_CONDITIONS = {"band": "band = %(band)s", "use": "use = %(use)s", "fitter": "fitter_id = %(fitter)s"}


def _parts(wanted: OutcomeFilter, by: str, last: dt.date, *, on: dt.date) -> Iterator[_Part]:
    """People of all stores by group, by which of the conditions they meet, and by quarter."""
    given = {name: getattr(wanted, name) for name in _CONDITIONS if getattr(wanted, name) not in (None, "")}
    conditions = ["store_id = ANY(%(chosen)s)", *(_CONDITIONS[name] for name in given)]
    cross = _CROSS.format(
        key=GROUPINGS[by],
        conditions=", ".join(conditions),
        places=", ".join(str(place + 1) for place in range(3 + len(conditions))),
    )
    everybody = OutcomeFilter(tuple(Store.objects.values_list("pk", flat=True)), until=last)
    query, parameters = courses_sql(everybody, cross, on=on)
    rows = rows_of(query, parameters | given | {"chosen": list(wanted.stores)})
    if not rows:
        return
    first = min(row[2] for row in rows)
    shape = (2,) * len(conditions) + (quarter_of(last) - first,)
    # A band or a store is a condition too: without it the group is part of all the others.
    dropped = by != "target"
    for key in {row[0] for row in rows}:
        counts = [np.zeros((2, *shape) if dropped else shape, dtype=np.int64) for _ in range(2)]
        for group, at_risk, quarter, *met, people in rows:
            if not dropped and group != key:
                continue
            place = ((int(group == key),) if dropped else ()) + (*map(int, met), quarter - first)
            for part in counts[: 2 if at_risk else 1]:
                part[place] += people
        yield _Part(key, tuple(counts), first)


VISIT_EDGES, VISITS = (28, 63, 133, 273), (14, 42, 84, 182, 364)
"""Days at risk from one edge to the next are counted at one visit."""

_BY_VISIT = """
SELECT {key}, visit, count(*), sum(record_key), count(*) FILTER (WHERE answered),
    sum(record_key) FILTER (WHERE answered), count(*) FILTER (WHERE lost), sum(record_key) FILTER (WHERE lost),
    count(*) FILTER (WHERE recurred), sum(record_key) FILTER (WHERE recurred), coalesce(sum(km), 0),
    coalesce(max(km), 0), sum(record_key) FILTER (WHERE km IS NOT NULL), count(km),
    count(*) FILTER (WHERE recurred AND km IS NOT NULL), sum(record_key) FILTER (WHERE recurred AND km IS NOT NULL)
FROM (
    SELECT course.*, hashint8extended(fitting.customer_id, %(seed)s) AS record_key,
        (%(visits)s::int[])[1 + width_bucket(days, %(edges)s::int[])] AS visit
    FROM course JOIN fittings_fitting fitting ON fitting.id = course.fitting_id
) seen GROUP BY 1, 2 ORDER BY 1, 2
"""


@dataclass(frozen=True, slots=True)
class VisitCount:
    """People of one group by the visit up to which they were watched (days, None for never), with their record keys."""

    key: Any
    visit: int | None
    people: int
    people_keys: Any
    answered: int
    answered_keys: Any
    lost: int
    lost_keys: Any
    recurred: int
    recurred_keys: Any
    km: float
    largest_km: float
    km_keys: Any
    with_km: int
    recurred_with_km: int
    recurred_with_km_keys: Any


def released_counts(wanted: OutcomeFilter, by: str, *, on: dt.date) -> list[DayCount]:
    """People of all stores added up by group and visit, with noise: three queries."""
    shown = released(wanted, by, on=on)
    query, parameters = courses_sql(shown.wanted, _BY_VISIT.format(key=GROUPINGS[by]), on=on)
    grid = {"seed": noise.record_seed(), "visits": list(VISITS), "edges": list(VISIT_EDGES)}
    rows = [VisitCount(*row) for row in rows_of(query, parameters | grid)]
    return noisy_counts([row for row in rows if row.key in shown.keys])


def visit_count(key: Any, course: FittingCourse) -> VisitCount:
    """One person's course as a count of one."""
    visit = None if course.days is None else VISITS[bisect_right(VISIT_EDGES, course.days)]
    key_of, with_km = course.record_key, course.km is not None
    both = course.recurred and with_km
    return VisitCount(
        key=key,
        visit=visit,
        people=1,
        people_keys=key_of,
        answered=int(course.answered),
        answered_keys=key_of * course.answered,
        lost=int(course.lost),
        lost_keys=key_of * course.lost,
        recurred=int(course.recurred),
        recurred_keys=key_of * course.recurred,
        km=course.km or 0.0,
        largest_km=course.km or 0.0,
        km_keys=key_of * with_km,
        with_km=int(with_km),
        recurred_with_km=int(both),
        recurred_with_km_keys=key_of * both,
    )


def noisy_counts(rows: Sequence[VisitCount]) -> list[DayCount]:
    """Counts as they are shown: each of what is read off gets its own noise, and then they are brought into order.

    What is read off: people, answered, lost, at risk from each visit on, recurrences up to each, and distance.
    """
    groups: dict[Any, list[VisitCount]] = defaultdict(list)
    for row in rows:
        groups[row.key].append(row)
    return [count for key, group in groups.items() for count in _noisy_group(key, group)]


def _noisy_group(key: Any, rows: list[VisitCount]) -> Iterator[DayCount]:
    watched = [row for row in rows if row.visit is not None]
    visits = [[row for row in watched if row.visit == visit] for visit in sorted({row.visit or 0 for row in watched})]
    at_risk, events = _in_order(visits)
    people = max(_noisy_sum(rows, "people"), at_risk[0])
    answered = min(people, max(_noisy_sum(rows, "answered"), at_risk[0]))
    lost = min(people, _noisy_sum(rows, "lost"))
    km, with_km = _noisy_km(watched), min(_noisy_sum(watched, "recurred_with_km"), sum(events))
    if sum(row.recurred_with_km for row in watched) == sum(row.recurred for row in watched):
        with_km = sum(events)
    yield DayCount(key, None, people - at_risk[0], answered, lost, 0, km, with_km)
    for rows_here, here, after, recurred in zip(visits, at_risk[:-1], at_risk[1:], events, strict=True):
        yield DayCount(key, rows_here[0].visit, here - after, 0, 0, recurred, 0.0, 0)


def _noisy_sum(rows: Sequence[VisitCount], name: str) -> int:
    keys = sum(int(getattr(row, f"{name}_keys") or 0) for row in rows)
    return noise.noisy(sum(getattr(row, name) for row in rows), keys)


def _in_order(visits: Sequence[Sequence[VisitCount]]) -> tuple[list[int], list[int]]:
    """How many are at risk from each visit on (0 after the last), and how many recurrences each brought."""
    rest = [[row for rows in visits[place:] for row in rows] for place in range(len(visits) + 1)]
    at_risk, events = [_noisy_sum(rest[0], "people")], list[int]()
    for place in range(len(visits)):
        until = [row for rows in visits[: place + 1] for row in rows]
        events.append(min(max(0, _noisy_events(until, rest[0]) - sum(events)), at_risk[-1]))
        at_risk.append(min(_noisy_sum(rest[place + 1], "people"), at_risk[-1] - events[-1]))
    return at_risk, events


def _noisy_events(until: Sequence[VisitCount], watched: Sequence[VisitCount]) -> int:
    """Recurrences, with noise from all who were watched: else an unchanged number would say that nobody's came."""
    count = sum(row.recurred for row in until)
    keys = sum(int(row.recurred_keys or 0) for row in until) + sum(int(row.people_keys or 0) for row in watched)
    return noise.noisy(count, keys)


def _noisy_km(watched: Sequence[VisitCount]) -> float:
    """Distance to two digits; the noise of a person is half the largest distance."""
    km, people = sum(row.km for row in watched), sum(row.with_km for row in watched)
    keys = sum(int(row.km_keys or 0) for row in watched)
    apart = noise.noisy(people, keys) - people
    largest = max((row.largest_km for row in watched), default=0.0)
    return float(f"{max(0.0, km + apart * largest / 2):.1e}")
