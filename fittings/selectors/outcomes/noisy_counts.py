"""Counts of people and complaints of all stores as they are shown: each with noise from who is counted in it.

Everything on the pages follows from these counts, never from the exact ones. Complaints are counted by the follow-ups
between which they came back; what is read off such a table (at risk from each follow-up on, recurrences up to each)
gets its own noise, and the cells inside share it out.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from fittings.domain.outcomes.clusters import PersonSums
from fittings.models import LeftOut
from fittings.selectors.outcomes import noise
from fittings.selectors.outcomes.courses import (
    FOLLOWED,
    GROUPINGS,
    MARK_WEEKS,
    READ_OFF_DAYS,
    Counts,
    CourseRow,
    DayCount,
    OutcomeFilter,
    PeopleCount,
    courses_sql,
    people_count,
    rows_of,
)
from fittings.selectors.outcomes.released_people import released

DAYS = (0, *(7 * weeks for weeks in MARK_WEEKS))
EDGES = tuple((earlier + later) // 2 for earlier, later in pairwise(DAYS))
"""Days from one edge to the next are counted at one follow-up, 0 being the beginning."""

_CELLS = {
    "people": "true",
    "answered": "answered",
    "lost": "lost",
    "at_risk": "parts > 0",
    "back": "back > 0",
    "with_km": "km IS NOT NULL",
    **{f"left_out_{reason}": f"parts = 0 AND left_out = {reason}" for reason in LeftOut.values},
}
"""What people are counted by."""


@dataclass(frozen=True, slots=True)
class PeopleCells:
    """People of one group (None: all), exactly: how many in each of `_CELLS`, with the sums of their record keys."""

    key: Any
    cells: Mapping[str, tuple[int, int]]
    recurrences: int
    visits: tuple[int, int]
    visits_open: tuple[int, int]
    largest_km: float
    sums: PersonSums


@dataclass(frozen=True, slots=True)
class ComplaintCell:
    """Complaints of one group, exactly: watched from a follow-up, free until one, back by one (None: not back).

    `free` is None for those of people never heard of. `most` is the most that one person has in the group.
    """

    key: Any
    entered: int
    free: int | None
    back: int | None
    complaints: int
    keys: int
    lost_open: int
    lost_keys: int
    most: int

    @property
    def place(self) -> int:
        """Up to which follow-up they are watched."""
        return self.back if self.back is not None else self.free or 0


_KEYED = """, keyed AS (
    SELECT *, hashint8extended(customer_id, %(seed)s) AS record_key FROM followed WHERE {key} = ANY(%(keys)s)
)"""

_PEOPLE = """, person AS (
    SELECT {key} AS key, grouping({key}) AS whole, min(record_key) AS record_key, bool_or(answered) AS answered,
        bool_or(lost) AS lost, count(days) AS parts, count(*) FILTER (WHERE recurred) AS back,
        coalesce(min(left_out), 0) AS left_out, sum(visits) AS visits, sum(visits_open) AS visits_open, sum(km) AS km,
        count(km) AS km_parts, count(*) FILTER (WHERE recurred AND km IS NOT NULL) AS km_back
    FROM keyed GROUP BY GROUPING SETS (({key}, customer_id), (customer_id))
)
SELECT key, {cells}, coalesce(sum(back), 0)::bigint, coalesce(sum(visits), 0)::bigint, coalesce(max(visits), 0)::bigint,
    coalesce(sum(visits_open), 0)::bigint, coalesce(max(visits_open), 0)::bigint, coalesce(max(km), 0),
    count(km), coalesce(sum(km_parts), 0)::bigint, coalesce(sum(km_back), 0)::bigint, coalesce(sum(km), 0),
    coalesce(sum(km_back * km_back), 0)::float8, coalesce(sum(km_back * km), 0), coalesce(sum(km * km), 0)
FROM person GROUP BY whole, key ORDER BY whole, key
"""

_COMPLAINTS = """, placed AS (
    SELECT {key} AS key, n, is_open, record_key, count(*) OVER (PARTITION BY {key}, customer_id) AS mine,
        width_bucket(entered_days, %(edges)s::int[]) AS entered,
        width_bucket(free_until_days, %(edges)s::int[]) AS free,
        CASE WHEN recurred AND days <= %(read_off)s THEN greatest(width_bucket(days, %(edges)s::int[]), 1) END AS back
    FROM keyed WHERE days IS NOT NULL OR is_open
), seen AS (
    SELECT key, n, is_open, record_key, mine, least(entered, free, back - 1) AS entered, least(free, back - 1) AS free,
        back FROM placed
)
SELECT key, coalesce(entered, 0), free, back, sum(n)::bigint, sum(record_key::numeric * n),
    coalesce(sum(n) FILTER (WHERE is_open), 0)::bigint,
    coalesce(sum(record_key::numeric * n) FILTER (WHERE is_open), 0), max(greatest(n, mine))
FROM seen GROUP BY 1, 2, 3, 4 ORDER BY 1, 2, 3, 4
"""


def released_counts(wanted: OutcomeFilter, by: str, *, on: dt.date) -> Counts:
    """People and complaints of all stores by group, with noise: four queries."""
    shown = released(wanted, by, on=on)
    given = {"seed": noise.record_seed(), "keys": list(shown.keys), "edges": list(EDGES), "read_off": READ_OFF_DAYS}
    cells = ", ".join(
        f"count(*) FILTER (WHERE {condition}), coalesce(sum(record_key) FILTER (WHERE {condition}), 0)"
        for condition in _CELLS.values()
    )
    if not shown.keys:
        return Counts((), ())
    people, complaints = (
        rows_of(query, parameters | given)
        for ending in (_PEOPLE, _COMPLAINTS)
        for query, parameters in [
            courses_sql(shown.wanted, FOLLOWED + (_KEYED + ending).format(key=GROUPINGS[by], cells=cells), on=on, by=by)
        ]
    )
    return noisy_counts([_people_cells(row) for row in people], [_complaint_cell(row) for row in complaints])


def _people_cells(row: Sequence[Any]) -> PeopleCells:
    key, *rest = row
    size = 2 * len(_CELLS)
    pairs = zip(rest[:size:2], map(int, rest[1:size:2]), strict=True)
    recurrences, visits, most, visits_open, most_open, largest_km, *sums = rest[size:]
    cells = dict(zip(_CELLS, pairs, strict=True))
    return PeopleCells(key, cells, recurrences, (visits, most), (visits_open, most_open), largest_km, PersonSums(*sums))


def _complaint_cell(row: Sequence[Any]) -> ComplaintCell:
    key, entered, free, back, complaints, keys, lost_open, lost_keys, most = row
    return ComplaintCell(key, entered, free, back, complaints, int(keys), lost_open, int(lost_keys), most)


def noisy_counts(people: Iterable[PeopleCells], complaints: Iterable[ComplaintCell]) -> Counts:
    """Counts as they are shown, from exact ones."""
    by_key: dict[Any, list[ComplaintCell]] = defaultdict(list)
    for cell in complaints:
        by_key[cell.key].append(cell)
    days = [row for cells in by_key.values() for row in _noisy_days(cells)]
    counts = [_noisy_people(cells, [row for row in days if cells.key in (None, row.key)]) for cells in people]
    return Counts(tuple(counts), tuple(days))


def _noisy_people(exact: PeopleCells, days: Sequence[DayCount]) -> PeopleCount:
    shown = {name: noise.noisy(*cell) for name, cell in exact.cells.items()}
    at_risk, recurrences = shown["at_risk"], sum(row.recurred for row in days)
    people = max(shown["people"], at_risk)
    back, back_keys = exact.cells["back"]
    # Noise from all who were watched: else an unchanged number would say that nobody's complaint came back.
    here = noise.noisy(back, back_keys + exact.cells["at_risk"][1])
    return PeopleCount(
        key=exact.key,
        people=people,
        answered=min(people, shown["answered"]),
        lost=min(people, shown["lost"]),
        at_risk=at_risk,
        back=min(at_risk, recurrences if back == exact.recurrences else min(here, recurrences)),
        recurrences=recurrences,
        left_out=tuple(shown[f"left_out_{reason}"] for reason in LeftOut.values),
        visits=(visits := _noisy_visits(exact, exact.visits)),
        visits_open=min(visits, _noisy_visits(exact, exact.visits_open)),
        by_person=_noisy_sums(exact, at_risk, recurrences),
    )


def _noisy_visits(exact: PeopleCells, visits: tuple[int, int]) -> int:
    """Follow-ups; the noise of a person is as many as one person has at most."""
    count, most = visits
    people, keys = exact.cells["people"]
    return max(0, count + most * (noise.noisy(people, keys + count) - people)) if count else 0


def _noisy_sums(exact: PeopleCells, at_risk: int, recurrences: int) -> PersonSums:
    """Recurrences and km of those whose km are known, to two digits; the noise of a person is half the largest km."""
    sums, (with_km, keys) = exact.sums, exact.cells["with_km"]
    apart = noise.noisy(with_km, keys) - with_km
    km = _two_digits(max(0.0, sums.exposure + apart * exact.largest_km / 2))
    events = recurrences if sums.events == exact.recurrences else min(recurrences, noise.noisy(sums.events, keys))
    # What the people have to do with each other is carried over to the noisy counts, to two digits.
    more, longer = (events / sums.events if sums.events else 0.0), (km / sums.exposure if sums.exposure else 0.0)
    return PersonSums(
        people=min(at_risk, with_km + apart),
        parts=min(at_risk, with_km + apart) + sums.parts - sums.people,
        events=events,
        exposure=km,
        events_squared=_two_digits(sums.events_squared * more),
        events_exposure=_two_digits(sums.events_exposure * more * longer),
        exposure_squared=_two_digits(sums.exposure_squared * longer**2),
    )


def _two_digits(value: float) -> float:
    return float(f"{value:.1e}")


def _noisy_days(cells: Sequence[ComplaintCell]) -> list[DayCount]:
    """Complaints of one group by the follow-ups, with those of people lost."""
    never = [cell for cell in cells if cell.free is None]
    # Who came at the follow-up at which they left was not watched between two.
    watched = [cell for cell in cells if cell.free is not None and (cell.place > cell.entered or cell.entered == 0)]
    rows = [row for place in _in_order(watched) for row in _rows_at(*place)]
    silent = _noisy(never, "complaints", "keys")
    rows += [DayCount(cells[0].key, 0, 0, None, silent, 0, silent)] if silent else []
    return _weighted(rows)


def _noisy(cells: Sequence[ComplaintCell], name: str, keys: str, more: int = 0) -> int:
    """Complaints with noise; that of a person is as many as one person has at most."""
    count: int = sum(getattr(cell, name) for cell in cells)
    total: int = sum(getattr(cell, keys) for cell in cells) + more
    return max(0, count + max((cell.most for cell in cells), default=0) * (noise.noisy(count, total) - count))


Place = tuple[list[ComplaintCell], int, int, int]


def _in_order(watched: Sequence[ComplaintCell]) -> Iterator[Place]:
    """By follow-up: the cells that end there, the follow-up, and how many came back and how many were left alone."""
    everybody = sum(cell.keys for cell in watched)
    places = sorted({cell.place for cell in watched})
    at_risk, so_far = _noisy(watched, "complaints", "keys"), 0
    for place in places:
        until = [cell for cell in watched if cell.back is not None and cell.back <= place]
        # Noise from all who were watched: else an unchanged number would say that nobody's complaint came back.
        back = min(max(0, _noisy(until, "complaints", "keys", everybody) - so_far), at_risk)
        rest = [cell for cell in watched if cell.place > place]
        after = min(_noisy(rest, "complaints", "keys"), at_risk - back)
        yield [cell for cell in watched if cell.place == place], place, back, at_risk - back - after
        at_risk, so_far = after, so_far + back


def _rows_at(cells: Sequence[ComplaintCell], place: int, back: int, others: int) -> Iterator[DayCount]:
    came = [cell for cell in cells if cell.back is not None]
    stayed = [cell for cell in cells if cell.back is None]
    lost = min(others, _noisy(stayed, "lost_open", "lost_keys"))
    key, day = cells[0].key, DAYS[place] or 1
    for entered, free, count in _shared(came, back, place - 1):
        yield DayCount(key, DAYS[entered], DAYS[free], day, count, count)
    for entered, free, count in _shared(stayed, others, place):
        here = min(lost, count)
        lost -= here
        yield DayCount(key, DAYS[entered], DAYS[free], day, count, 0, here)


def _shared(cells: Sequence[ComplaintCell], total: int, free: int) -> list[tuple[int, int, int]]:
    """Share a noisy count out to its cells, by their own noisy counts; the largest takes what is left over."""
    places: dict[tuple[int, int], list[ComplaintCell]] = defaultdict(list)
    for cell in cells:
        places[cell.entered, cell.free or 0].append(cell)
    own = {place: _noisy(here, "complaints", "keys") for place, here in places.items()}
    everybody = sum(own.values())
    if not everybody:
        return [(0, free, total)] if total else []
    parts = {place: total * count // everybody for place, count in own.items()}
    parts[max(own, key=lambda place: own[place])] += total - sum(parts.values())
    return [(*place, count) for place, count in parts.items() if count]


def _weighted(rows: Sequence[DayCount]) -> list[DayCount]:
    """Let all complaints not lost stand alike for those lost: single kinds of people would be too few."""
    lost, everybody = sum(row.lost_open for row in rows), sum(row.complaints for row in rows)
    weight = everybody / (everybody - lost) if everybody > lost else 0.0
    return [
        DayCount(
            *(row.key, row.entered, row.free_until, row.days, row.complaints, row.recurred, row.lost_open),
            recurred_weight=weight * row.recurred,
            others_weight=weight * (row.complaints - row.recurred - row.lost_open),
            weight_squares=weight**2 * (row.complaints - row.lost_open),
        )
        for row in rows
    ]


def noisy_counted(rows: Iterable[tuple[Any, CourseRow]]) -> Counts:
    """Count rows by keys that the database does not know, with noise, as `released_counts` does by its own."""
    by_person: dict[tuple[bool, Any], dict[int, list[CourseRow]]] = defaultdict(lambda: defaultdict(list))
    for key, row in rows:
        for whole, place in ((False, key), (True, None)):
            by_person[whole, place][row.customer_id].append(row)
    people = [_cells_of(key, list(persons.values())) for (_, key), persons in by_person.items()]
    complaints = [
        _cell_of(key, row, sum(other.days is not None for other in person))
        for (whole, key), persons in by_person.items()
        if not whole
        for person in persons.values()
        for row in person
        if row.days is not None
    ]
    return noisy_counts(people, complaints)


def _cells_of(key: Any, persons: Sequence[Sequence[CourseRow]]) -> PeopleCells:
    exact = people_count(key, persons)
    at_risk = [any(row.days is not None for row in person) for person in persons]
    is_in = {
        "people": [True] * len(persons),
        "answered": [person[0].answered for person in persons],
        "lost": [person[0].lost for person in persons],
        "at_risk": at_risk,
        "back": [any(row.recurred for row in person) for person in persons],
        "with_km": [any(row.km is not None for row in person) for person in persons],
    }
    for reason in LeftOut.values:
        out = [min(row.left_out or 0 for row in person) == reason for person in persons]
        is_in[f"left_out_{reason}"] = [here and not risk for here, risk in zip(out, at_risk, strict=True)]
    keys = [person[0].record_key for person in persons]
    return PeopleCells(
        key=key,
        cells={name: (sum(places), _added(keys, places)) for name, places in is_in.items()},
        recurrences=exact.recurrences,
        visits=(exact.visits, max(sum(row.visits for row in person) for person in persons)),
        visits_open=(exact.visits_open, max(sum(row.visits_open for row in person) for person in persons)),
        largest_km=max(sum(row.km or 0.0 for row in person) for person in persons),
        sums=exact.by_person,
    )


def _added(keys: Sequence[int], places: Sequence[bool]) -> int:
    return sum(key for key, here in zip(keys, places, strict=True) if here)


def _cell_of(key: Any, row: CourseRow, most: int) -> ComplaintCell:
    entered, free, day = (bisect_right(EDGES, part or 0) for part in (row.entered, row.free_until, row.days))
    back = max(day, 1) if row.recurred and (row.days or 0) <= READ_OFF_DAYS else None
    free = free if back is None else min(free, back - 1)
    return ComplaintCell(key, min(entered, free), free, back, 1, row.record_key, 0, 0, most)
