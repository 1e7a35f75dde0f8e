"""What became of everybody who chose a shoe: one stored row a complaint and shoe, or people and days added up.

Triggers update the courses with every answer (`fittings.models.Course`). The rules of the time at risk are in
`fittings/triggers/courses.sql`. Added up by the database there are at most a few thousand rows to read, however many
people there are.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db import connection

from fittings.domain.outcomes.clusters import PersonSums, person_sums
from fittings.models import Course, LeftOut
from fittings.models.people.follow_up import WEEKS
from fittings.selectors.outcomes import noise

LOST_AFTER_DAYS = 28
"""Somebody with an open follow-up this long overdue, and nothing answered since, counts as lost."""

MARK_WEEKS: tuple[int, ...] = WEEKS[:-1]
"""Weeks of the follow-ups at which figures are read: all but the last."""

READ_OFF_DAYS = 7 * (WEEKS[-2] + WEEKS[-1]) // 2
"""Half-way to the last follow-up: a recurrence reported later came after the last one that figures are read at."""


@dataclass(frozen=True, slots=True)
class OutcomeFilter:
    """Whose outcomes: stores always, the rest where given. `until` is the first day after the period of choices."""

    stores: tuple[int, ...]
    since: dt.date | None = None
    until: dt.date | None = None
    band: int | None = None
    use: str = ""
    fitter: int | None = None


@dataclass(frozen=True, slots=True)
class DayCount:
    """Complaints of one group that were at risk from one day of their courses to another; not people.

    `entered` is 0 for the first shoe. A recurrence at `days` began after `free_until`. Without `days` they are
    complaints of people who never answered and were lost, at risk from nobody knows when to when.

    `lost_open` counts those of people lost before a recurrence. The weights stand for them: added up over those not
    lost, one over the share of complaints alike (store, use, band, target) that were not lost.
    """

    key: Any
    entered: int
    free_until: int
    days: int | None
    complaints: int
    recurred: int
    lost_open: int = 0
    recurred_weight: float = 0.0
    others_weight: float = 0.0
    weight_squares: float = 0.0


@dataclass(frozen=True, slots=True)
class PeopleCount:
    """People of one group, each counted once however many fittings and complaints they had; `key` None for all.

    `back` are people with a recurrence, `recurrences` complaints that came back. The sums are those of people whose
    distance is known: `by_person` adds up their recurrences and km.
    """

    key: Any
    people: int
    answered: int
    lost: int
    at_risk: int
    back: int
    recurrences: int
    left_out: tuple[int, ...]
    visits: int
    visits_open: int
    by_person: PersonSums


@dataclass(frozen=True, slots=True)
class Counts:
    """What the outcomes follow from: people by group, the last for all groups together, and complaints by the day."""

    people: tuple[PeopleCount, ...]
    days: tuple[DayCount, ...]


GROUPINGS = {"target": "in_target", "band": "band", "store": "store_id", "movement": "movement"}

NOT_LOOKED = "none"
"""The group of those who were not looked at in the shoe chosen, or not barefoot in the same gait."""

_COURSES = """
WITH course AS (
    SELECT course.*, band."order" AS band, band.name AS band_name,
        coalesce(course.waits_since < %(overdue)s, false) AS lost{movement}
    FROM fittings_course course JOIN catalogue_band band ON band.id = course.band_id{looks}
    WHERE course.store_id = ANY(%(stores)s) AND course.store_id NOT IN (
        SELECT id FROM core_store WHERE is_training
    ) {conditions}
)
"""

# Read only where it is asked for: the looks are those of the fitting at which the shoe was chosen.
_MOVEMENT = f", coalesce(looked.movement, '{NOT_LOOKED}') AS movement"
_LOOKS = """
    LEFT JOIN fittings_shoemovement looked
        ON looked.fitting_id = course.fitting_id AND looked.shoe_id = course.shoe_id"""

# Lost without a recurrence: from some day on nobody knows. The part of the last shoe counts, and of people who were
# never heard of the complaints of their last fitting.
FOLLOWED = """, followed AS (
    SELECT course.*, CASE WHEN days IS NULL THEN complaints ELSE 1 END AS n,
        lost AND NOT recurred AND (days IS NOT NULL OR left_out = {no_answer} AND complaints > 0) AND NOT EXISTS (
            SELECT FROM fittings_course other
            WHERE other.customer_id = course.customer_id AND CASE
                WHEN course.days IS NULL
                    THEN other.days IS NOT NULL OR other.complaints > 0 AND other.left_out <> {worn_beside}
                        AND (other.fitting_id, other.choice_id) > (course.fitting_id, course.choice_id)
                ELSE (other.region, other.side) = (course.region, course.side) AND other.days > course.days END
        ) AS is_open
    FROM course
)
""".replace("{no_answer}", str(LeftOut.NO_ANSWER.value)).replace("{worn_beside}", str(LeftOut.WORN_BESIDE.value))

_BY_DAY = """, alike AS (
    SELECT store_id, use, band, in_target, sum(n)::float8 / nullif(sum(n) FILTER (WHERE NOT is_open), 0) AS weight
    FROM followed WHERE days IS NOT NULL OR is_open GROUP BY store_id, use, band, in_target
)
SELECT {key}, coalesce(entered_days, 0), coalesce(free_until_days, 0), days, sum(n)::bigint,
    count(*) FILTER (WHERE recurred), coalesce(sum(n) FILTER (WHERE is_open), 0)::bigint,
    coalesce(sum(weight) FILTER (WHERE recurred), 0),
    coalesce(sum(weight) FILTER (WHERE NOT recurred AND NOT is_open), 0),
    coalesce(sum(weight ^ 2) FILTER (WHERE NOT is_open), 0)
FROM followed LEFT JOIN alike USING (store_id, use, band, in_target) WHERE days IS NOT NULL OR is_open
GROUP BY {key}, entered_days, free_until_days, days ORDER BY {key}, days, entered_days, free_until_days
"""

# Everybody once in each group, and once in all: `whole` is 1 there.
_BY_PERSON = """, person AS (
    SELECT {key} AS key, grouping({key}) AS whole, bool_or(answered) AS answered, bool_or(lost) AS lost,
        count(days) AS parts, count(*) FILTER (WHERE recurred) AS back, coalesce(min(left_out), 0) AS left_out,
        sum(visits) AS visits, sum(visits_open) AS visits_open,
        sum(km) AS km, count(km) AS km_parts, count(*) FILTER (WHERE recurred AND km IS NOT NULL) AS km_back
    FROM course GROUP BY GROUPING SETS (({key}, customer_id), (customer_id))
)
SELECT key, count(*), count(*) FILTER (WHERE answered), count(*) FILTER (WHERE lost), count(*) FILTER (WHERE parts > 0),
    count(*) FILTER (WHERE back > 0), coalesce(sum(back), 0)::bigint,
    {reasons},
    coalesce(sum(visits), 0)::bigint, coalesce(sum(visits_open), 0)::bigint,
    count(km), coalesce(sum(km_parts), 0)::bigint, coalesce(sum(km_back), 0)::bigint, coalesce(sum(km), 0),
    coalesce(sum(km_back * km_back), 0)::float8, coalesce(sum(km_back * km), 0), coalesce(sum(km * km), 0)
FROM person GROUP BY whole, key ORDER BY whole, key
""".replace(
    "{reasons}",
    ", ".join(f"count(*) FILTER (WHERE parts = 0 AND left_out = {reason})" for reason in LeftOut.values),
)

_CONDITIONS = (
    ("since", "AND course.chosen_on >= %(since)s"),
    ("until", "AND course.chosen_on < %(until)s"),
    ("band", 'AND band."order" = %(band)s'),
    ("use", "AND course.use = %(use)s"),
    ("fitter", "AND course.fitter_id = %(fitter)s"),
)


def courses_sql(wanted: OutcomeFilter, ending: str, *, on: dt.date, by: str = "") -> tuple[str, dict[str, Any]]:
    """Return a query over the courses (the relation ``course``) and its parameters; `by` is a key of `GROUPINGS`."""
    given = {name: getattr(wanted, name) for name, _ in _CONDITIONS if getattr(wanted, name) not in (None, "")}
    conditions = " ".join(words for name, words in _CONDITIONS if name in given)
    fixed = {
        "stores": list(wanted.stores),
        "overdue": on - dt.timedelta(days=LOST_AFTER_DAYS),
    }
    movement, looks = (_MOVEMENT, _LOOKS) if by == "movement" else ("", "")
    return _COURSES.format(conditions=conditions, movement=movement, looks=looks) + ending, fixed | given


def by_day_sql(wanted: OutcomeFilter, by: str, *, on: dt.date) -> tuple[str, dict[str, Any]]:
    """Return the query behind `counts_by_day`."""
    return courses_sql(wanted, FOLLOWED + _BY_DAY.format(key=GROUPINGS[by]), on=on, by=by)


def people_sql(wanted: OutcomeFilter, by: str, *, on: dt.date) -> tuple[str, dict[str, Any]]:
    """Return the query behind `people_counts`."""
    return courses_sql(wanted, _BY_PERSON.format(key=GROUPINGS[by]), on=on, by=by)


def counts_of(wanted: OutcomeFilter, by: str, *, on: dt.date) -> Counts:
    """Count people by group and their complaints by days at risk: two queries.

    Parameters
    ----------
    by : a key of `GROUPINGS`
    on : the day on which what is overdue counts as lost
    """
    return Counts(
        tuple(_people_count(row) for row in rows_of(*people_sql(wanted, by, on=on))),
        tuple(DayCount(*row) for row in rows_of(*by_day_sql(wanted, by, on=on))),
    )


def _people_count(row: Sequence[Any]) -> PeopleCount:
    key, people, answered, lost, at_risk, back, recurrences, *rest = row
    left_out, (visits, visits_open, *sums) = tuple(rest[: len(LeftOut)]), rest[len(LeftOut) :]
    counts = (people, answered, lost, at_risk, back, recurrences)
    return PeopleCount(key, *counts, left_out, visits, visits_open, PersonSums(*sums))


def rows_of(query: str, parameters: dict[str, Any]) -> list[Sequence[Any]]:
    with connection.cursor() as cursor:
        cursor.execute(query, parameters)
        rows: list[Sequence[Any]] = cursor.fetchall()
    return rows


@dataclass(frozen=True, slots=True)
class ModelRow:
    """What the model takes of a complaint that was at risk with one shoe, from `entered` to `days` of its course."""

    customer_id: int
    in_target: bool
    body_mass_kg: float
    complaints: int
    distance_km_week: float
    recurred: bool
    entered: int
    days: int
    store: int


_MODEL = """
SELECT course.customer_id, in_target, body_mass_kg, complaints, distance_km_week, recurred, entered_days, days,
    course.store_id
FROM course JOIN fittings_fitting fitting ON fitting.id = course.fitting_id
WHERE days IS NOT NULL AND body_mass_kg IS NOT NULL AND distance_km_week IS NOT NULL
ORDER BY course.customer_id, region, side, entered_days
"""


def model_rows(wanted: OutcomeFilter, *, on: dt.date) -> list[ModelRow]:
    """Return the complaints at risk, a row a shoe, of people whose body mass and distance are known: one query."""
    return [ModelRow(*row) for row in rows_of(*courses_sql(wanted, _MODEL, on=on))]


@dataclass(frozen=True, slots=True)
class CourseRow:
    """One complaint of one person while they wore one shoe, as it is stored, with the stability chosen.

    `record_key` is the person's; see `noise`.
    """

    customer_id: int
    fitting_id: int
    in_target: bool
    stability: float
    answered: bool
    lost: bool
    left_out: int | None
    entered: int | None
    free_until: int | None
    days: int | None
    km: float | None
    recurred: bool
    visits: int
    visits_open: int
    record_key: int


_ROWS = """
SELECT course.customer_id, course.fitting_id, course.in_target, choice.stability, answered, lost, left_out,
    entered_days, free_until_days, days, km, recurred, visits, visits_open, hashint8extended(customer_id, %(seed)s)
FROM course JOIN fittings_choice choice ON choice.id = course.choice_id
ORDER BY course.fitting_id, course.choice_id, region, side
"""


def course_rows(wanted: OutcomeFilter, *, on: dt.date) -> Iterator[CourseRow]:
    """Yield the courses of everybody with a choice: one query."""
    query, parameters = courses_sql(wanted, _ROWS, on=on)
    return (CourseRow(*row) for row in rows_of(query, parameters | {"seed": noise.record_seed()}))


def counted(rows: Iterable[tuple[Any, CourseRow]]) -> Counts:
    """Count rows by keys that the database does not know, as `counts_of` does by its own."""
    by_person: dict[tuple[bool, Any], dict[int, list[CourseRow]]] = defaultdict(lambda: defaultdict(list))
    by_day: Counter[tuple[Any, int, int, int]] = Counter()
    recurred: Counter[tuple[Any, int, int, int]] = Counter()
    for key, row in rows:
        for whole, place in ((False, key), (True, None)):
            by_person[whole, place][row.customer_id].append(row)
        if row.days is not None:
            day = (key, row.entered or 0, row.free_until or 0, row.days)
            by_day[day] += 1
            recurred[day] += row.recurred
    people = [people_count(key, list(parts.values())) for (_, key), parts in by_person.items()]
    return Counts(tuple(people), tuple(DayCount(*day, count, recurred[day]) for day, count in by_day.items()))


def people_count(key: Any, people: Sequence[Sequence[CourseRow]]) -> PeopleCount:
    """Count people, each with all their rows."""
    back = [sum(row.recurred for row in person) for person in people]
    known = [part for part in ([row for row in person if row.km is not None] for person in people) if part]
    out = Counter(
        min(row.left_out or 0 for row in person) for person in people if all(row.days is None for row in person)
    )
    return PeopleCount(
        key=key,
        people=len(people),
        answered=sum(person[0].answered for person in people),
        lost=sum(person[0].lost for person in people),
        at_risk=len(people) - out.total(),
        back=sum(count > 0 for count in back),
        recurrences=sum(back),
        left_out=tuple(out[reason] for reason in LeftOut.values),
        visits=sum(row.visits for person in people for row in person),
        visits_open=sum(row.visits_open for person in people for row in person),
        by_person=person_sums(
            [sum(row.recurred for row in part) for part in known],
            [sum(row.km or 0.0 for row in part) for part in known],
            [len(part) for part in known],
        ),
    )


_COLUMNS = ", ".join(str(field.column) for field in Course._meta.concrete_fields if field.column != "id")
_STORED = f"SELECT {_COLUMNS} FROM fittings_course"  # noqa: S608  constants only
_ALL = f"SELECT {_COLUMNS} FROM fittings_courses_of(%(customers)s, %(zone)s)"  # noqa: S608  constants only
_APART = f"""
SELECT DISTINCT fitting_id FROM (({_STORED} EXCEPT {_ALL}) UNION ALL ({_ALL} EXCEPT {_STORED})) apart
ORDER BY fitting_id
"""  # noqa: S608  constants only


def courses_apart() -> list[int]:
    """Return the fittings whose stored course is not what follows from the answers; none where all is well."""
    # Given as values, so that the plan is made for so many.
    chose = "SELECT DISTINCT customer_id FROM fittings_fitting WHERE id IN (SELECT fitting_id FROM fittings_choice)"
    customers = [row[0] for row in rows_of(chose, {})]
    return [row[0] for row in rows_of(_APART, {"customers": customers, "zone": settings.TIME_ZONE})]


def fittings_without_course() -> list[int]:
    """Return the fittings with a choice that no course is stored of."""
    missing = "SELECT fitting_id FROM fittings_choice EXCEPT SELECT fitting_id FROM fittings_course"
    return [row[0] for row in rows_of(missing, {})]
