"""What became of everybody who chose a shoe, worked out by the database: one row a person, or people by the day.

The rules of the time at risk are those of `fittings.domain.person_time`; a test holds the two together. Adding people
up by the day leaves a few hundred rows to read, however many people there are.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.utils import timezone

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
    """People of one group who were at risk for one number of days; `days` None for those never at risk."""

    key: Any
    days: int | None
    people: int
    answered: int
    lost: int
    recurred: int
    km: float


GROUPINGS = {"target": "in_target", "band": "band", "store": "store_id"}

_COURSES = """
WITH base AS MATERIALIZED (
    SELECT fitting.id AS fitting_id, choice.in_target, choice.stability, choice.shoe_id, fitting.store_id,
        band."order" AS band, band.name AS band_name, fitting.body_mass_kg, fitting.distance_km_week,
        (choice.at AT TIME ZONE %(zone)s)::date AS chosen_on
    FROM fittings_choice choice
    JOIN fittings_fitting fitting ON fitting.id = choice.fitting_id
    JOIN catalogue_scorecard card ON card.id = choice.score_card_id
    JOIN catalogue_band band ON band.id = card.band_id
    WHERE fitting.store_id = ANY(%(stores)s) {conditions}
), told AS (
    SELECT fitting_id, bool_or(NOT told.now) AS has_past, count(*) AS complaints
    FROM base JOIN fittings_historyitem told USING (fitting_id) GROUP BY fitting_id
), follow AS MATERIALIZED (
    SELECT follow.id, fitting_id, follow.due_on, (follow.answered_at AT TIME ZONE %(zone)s)::date AS day,
        follow.distance_km_week AS km_week, follow.recurrence <> '' AS came_back, follow.free_of_complaints AS free
    FROM base JOIN fittings_followup follow USING (fitting_id)
    WHERE follow.answered_at IS NOT NULL OR follow.due_on < %(overdue)s
), heard AS (
    SELECT fitting_id, min(day) FILTER (WHERE free) AS free_on, max(day) AS last_on,
        max(due_on) FILTER (WHERE day IS NULL) AS overdue
    FROM follow GROUP BY fitting_id
), chosen AS MATERIALIZED (
    SELECT base.*, told.complaints, heard.last_on IS NOT NULL AS answered,
        coalesce(heard.overdue > coalesce(heard.last_on, '-infinity'), false) AS lost,
        CASE WHEN told.has_past THEN base.chosen_on WHEN told.complaints > 0 THEN heard.free_on END AS start
    FROM base LEFT JOIN told USING (fitting_id) LEFT JOIN heard USING (fitting_id)
), step AS (
    SELECT fitting_id, chosen.start, follow.day, coalesce(follow.km_week, chosen.distance_km_week, 0) AS km_week,
        lag(follow.day, 1, chosen.start) OVER person AS before,
        min(follow.day) FILTER (WHERE follow.came_back) OVER (PARTITION BY fitting_id) AS back_on
    FROM chosen JOIN follow USING (fitting_id) WHERE follow.day > chosen.start
    WINDOW person AS (PARTITION BY fitting_id ORDER BY follow.day, follow.due_on, follow.id)
), at_risk AS (
    SELECT fitting_id, max(day) - min(start) AS days, sum(km_week * (day - before) / 7.0) AS km,
        min(back_on) IS NOT NULL AS recurred
    FROM step WHERE back_on IS NULL OR day <= back_on GROUP BY fitting_id
), course AS (
    SELECT chosen.*, at_risk.days, at_risk.km, coalesce(at_risk.recurred, false) AS recurred
    FROM chosen LEFT JOIN at_risk USING (fitting_id)
)
"""

_BY_DAY = """
SELECT {key}, days, count(*), count(*) FILTER (WHERE answered), count(*) FILTER (WHERE lost),
    count(*) FILTER (WHERE recurred), coalesce(sum(km), 0)
FROM course GROUP BY {key}, days ORDER BY {key}, days
"""

_CONDITIONS = (
    ("since", "AND (choice.at AT TIME ZONE %(zone)s)::date >= %(since)s"),
    ("until", "AND (choice.at AT TIME ZONE %(zone)s)::date < %(until)s"),
    ("band", 'AND band."order" = %(band)s'),
    ("use", "AND fitting.use = %(use)s"),
    ("fitter", "AND fitting.fitter_id = %(fitter)s"),
)


def courses_sql(wanted: OutcomeFilter, ending: str, *, on: dt.date) -> tuple[str, dict[str, Any]]:
    """Return a query over the courses (the relation ``course``) and its parameters."""
    given = {name: getattr(wanted, name) for name, _ in _CONDITIONS if getattr(wanted, name) not in (None, "")}
    conditions = " ".join(words for name, words in _CONDITIONS if name in given)
    fixed = {
        "zone": timezone.get_current_timezone_name(),
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
SELECT in_target, body_mass_kg, complaints, distance_km_week, recurred FROM course
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


_FITTINGS = "SELECT fitting_id, in_target, stability, answered, lost, days, km, recurred FROM course"


def fitting_courses(wanted: OutcomeFilter, *, on: dt.date) -> Iterator[FittingCourse]:
    """Yield the course of every fitting with a choice: one query."""
    return (FittingCourse(*row) for row in rows_of(*courses_sql(wanted, _FITTINGS, on=on)))
