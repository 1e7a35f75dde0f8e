"""What became of everybody who chose a shoe: one stored row a person, or people added up by the day.

Triggers update the courses with every answer (`fittings.models.Course`). The rules of the time at risk are in
`fittings/triggers/courses.sql`. Adding people up by the day leaves a few hundred rows
to read, however many people there are.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db import connection

from fittings.models import Course
from fittings.selectors import noise

LOST_AFTER_DAYS = 28
"""Somebody with an open follow-up this long overdue, and nothing answered since, counts as lost."""


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
    """People of one group who were at risk for one number of days; `days` None for those never at risk.

    `km` adds up the distances that are known, and `recurred_with_km` counts the recurrences of these people alone.
    """

    key: Any
    days: int | None
    people: int
    answered: int
    lost: int
    recurred: int
    km: float
    recurred_with_km: int


GROUPINGS = {"target": "in_target", "band": "band", "store": "store_id"}

_COURSES = """
WITH course AS (
    SELECT course.*, band."order" AS band, band.name AS band_name,
        coalesce(course.waits_since < %(overdue)s, false) AS lost
    FROM fittings_course course JOIN catalogue_band band ON band.id = course.band_id
    WHERE course.store_id = ANY(%(stores)s) {conditions}
)
"""

_BY_DAY = """
SELECT {key}, days, count(*), count(*) FILTER (WHERE answered), count(*) FILTER (WHERE lost),
    count(*) FILTER (WHERE recurred), coalesce(sum(km), 0),
    count(*) FILTER (WHERE recurred AND km IS NOT NULL)
FROM course GROUP BY {key}, days ORDER BY {key}, days
"""

_CONDITIONS = (
    ("since", "AND course.chosen_on >= %(since)s"),
    ("until", "AND course.chosen_on < %(until)s"),
    ("band", 'AND band."order" = %(band)s'),
    ("use", "AND course.use = %(use)s"),
    ("fitter", "AND course.fitter_id = %(fitter)s"),
)


def courses_sql(wanted: OutcomeFilter, ending: str, *, on: dt.date) -> tuple[str, dict[str, Any]]:
    """Return a query over the courses (the relation ``course``) and its parameters."""
    given = {name: getattr(wanted, name) for name, _ in _CONDITIONS if getattr(wanted, name) not in (None, "")}
    conditions = " ".join(words for name, words in _CONDITIONS if name in given)
    fixed = {
        "stores": list(wanted.stores),
        "overdue": on - dt.timedelta(days=LOST_AFTER_DAYS),
    }
    return _COURSES.format(conditions=conditions) + ending, fixed | given


def by_day_sql(wanted: OutcomeFilter, by: str, *, on: dt.date) -> tuple[str, dict[str, Any]]:
    """Return the query behind `counts_by_day`."""
    return courses_sql(wanted, _BY_DAY.format(key=GROUPINGS[by]), on=on)


def counts_by_day(wanted: OutcomeFilter, by: str, *, on: dt.date) -> list[DayCount]:
    """Add people up by group and by days at risk: one query.

    Parameters
    ----------
    by : a key of `GROUPINGS`
    on : the day on which what is overdue counts as lost
    """
    return [DayCount(*row) for row in rows_of(*by_day_sql(wanted, by, on=on))]


def rows_of(query: str, parameters: dict[str, Any]) -> list[Sequence[Any]]:
    with connection.cursor() as cursor:
        cursor.execute(query, parameters)
        rows: list[Sequence[Any]] = cursor.fetchall()
    return rows


@dataclass(frozen=True, slots=True)
class ModelRow:
    """What the model takes of a person who was at risk."""

    in_target: bool
    body_mass_kg: float
    complaints: int
    distance_km_week: float
    recurred: bool


_MODEL = """
SELECT in_target, body_mass_kg, complaints, distance_km_week, recurred
FROM course JOIN fittings_fitting fitting ON fitting.id = course.fitting_id
WHERE days IS NOT NULL AND body_mass_kg IS NOT NULL AND distance_km_week IS NOT NULL ORDER BY fitting_id
"""


def model_rows(wanted: OutcomeFilter, *, on: dt.date) -> list[ModelRow]:
    """Return those at risk of whom body mass and distance are known: one query."""
    return [ModelRow(*row) for row in rows_of(*courses_sql(wanted, _MODEL, on=on))]


@dataclass(frozen=True, slots=True)
class FittingCourse:
    """The course of one fitting: inside its target then, the score chosen, and the time at risk where there was one."""

    fitting_id: int
    in_target: bool
    stability: float
    answered: bool
    lost: bool
    days: int | None
    km: float | None
    recurred: bool
    record_key: int


_FITTINGS = """
SELECT course.fitting_id, course.in_target, choice.stability, answered, lost, days, km, recurred,
    hashint8extended(fitting.customer_id, %(seed)s)
FROM course JOIN fittings_choice choice ON choice.fitting_id = course.fitting_id
JOIN fittings_fitting fitting ON fitting.id = course.fitting_id
"""


def fitting_courses(wanted: OutcomeFilter, *, on: dt.date) -> Iterator[FittingCourse]:
    """Yield the course of every fitting with a choice: one query."""
    query, parameters = courses_sql(wanted, _FITTINGS, on=on)
    return (FittingCourse(*row) for row in rows_of(query, parameters | {"seed": noise.record_seed()}))


_COLUMNS = ", ".join(str(field.column) for field in Course._meta.concrete_fields)
_KEPT = f"SELECT {_COLUMNS} FROM fittings_course"  # noqa: S608  constants only
_ALL = f"SELECT {_COLUMNS} FROM fittings_courses_of(%(fittings)s, %(zone)s)"  # noqa: S608  constants only
_APART = f"""
SELECT DISTINCT fitting_id FROM (({_KEPT} EXCEPT {_ALL}) UNION ALL ({_ALL} EXCEPT {_KEPT})) apart ORDER BY fitting_id
"""  # noqa: S608  constants only


def courses_apart() -> list[int]:
    """Return the fittings whose kept course is not what follows from the answers; none where all is well."""
    # Given as values, so that the plan is made for so many.
    fittings = [row[0] for row in rows_of("SELECT fitting_id FROM fittings_choice", {})]
    return [row[0] for row in rows_of(_APART, {"fittings": fittings, "zone": settings.TIME_ZONE})]
