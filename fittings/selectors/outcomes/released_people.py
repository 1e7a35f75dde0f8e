"""What may be shown of the people of all stores: whose follow-ups are over, by whole quarters, with noise on counts.

One selection of people must not be set against another to learn of a single person. So people enter by whole quarters
and once their follow-ups are over (day against day nothing changes), selections that differ from others by too few
people are not shown (filter against filter), and the same people always get the same noise (everything else; see
`noisy_counts`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from core.models import Store
from fittings.domain.disclosure.differencing import smallest_difference
from fittings.domain.disclosure.hiding import SMALL_CELL
from fittings.selectors.outcomes.courses import (
    GROUPINGS,
    LOST_AFTER_DAYS,
    MARK_WEEKS,
    OutcomeFilter,
    courses_sql,
    rows_of,
)

RELEASED_AFTER_WEEKS = MARK_WEEKS[-1]
"""People enter when the follow-ups up to here are over; what is said after a year changes counts that have noise."""

QUARTERS_BACK = 8
"""How many quarters a selection goes back where its newest people are too few."""


def quarter_of(day: dt.date) -> int:
    """Quarters since year 0."""
    return day.year * 4 + (day.month - 1) // 3


def quarter_start(quarter: int) -> dt.date:
    return dt.date(quarter // 4, quarter % 4 * 3 + 1, 1)


def released_until(on: dt.date) -> dt.date:
    """The first day of choices not shown over all stores yet: the last follow-up of all before is over."""
    return quarter_start(quarter_of(on - dt.timedelta(weeks=RELEASED_AFTER_WEEKS, days=LOST_AFTER_DAYS)))


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
SELECT group_key, at_risk, quarter, {names}, count(*)
FROM (
    SELECT {key} AS group_key,
        extract(year FROM chosen_on)::int * 4 + extract(quarter FROM chosen_on)::int - 1 AS quarter,
        {conditions}, customer_id, bool_or(days IS NOT NULL) AS at_risk
    FROM course GROUP BY {places}, customer_id
) person GROUP BY group_key, at_risk, quarter, {names}
"""
_CONDITIONS = {"band": "band = %(band)s", "use": "use = %(use)s", "fitter": "fitter_id = %(fitter)s"}


def _parts(wanted: OutcomeFilter, by: str, last: dt.date, *, on: dt.date) -> Iterator[_Part]:
    """People of all stores by group, by which of the conditions they meet, and by quarter; once in each of them."""
    given = {name: getattr(wanted, name) for name in _CONDITIONS if getattr(wanted, name) not in (None, "")}
    conditions = ["store_id = ANY(%(chosen)s)", *(_CONDITIONS[name] for name in given)]
    cross = _CROSS.format(
        key=GROUPINGS[by],
        conditions=", ".join(f"{condition} AS met_{place}" for place, condition in enumerate(conditions)),
        names=", ".join(f"met_{place}" for place in range(len(conditions))),
        places=", ".join(str(place + 1) for place in range(2 + len(conditions))),
    )
    everybody = OutcomeFilter(tuple(Store.objects.values_list("pk", flat=True)), until=last)
    query, parameters = courses_sql(everybody, cross, on=on, by=by)
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
