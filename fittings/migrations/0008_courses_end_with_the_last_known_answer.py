"""Courses end with the last answer that says whether a complaint is there, and a distance that is missing stays so."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.db import migrations

# As in fittings/domain/outcomes/person_time.py. Unlike in 0006, time after the last answer about the complaints is not
# watched, and where neither an answer nor the fitting names a distance, the sum is null instead of too small.
COURSES_OF = """
CREATE OR REPLACE FUNCTION fittings_courses_of(fittings bigint[], zone text) RETURNS SETOF fittings_course
LANGUAGE sql STABLE AS $$
WITH base AS MATERIALIZED (
    SELECT fitting.id AS fitting_id, fitting.store_id, fitting.fitter_id, choice.shoe_id, card.band_id, fitting.use,
        choice.in_target, (choice.at AT TIME ZONE zone)::date AS chosen_on, fitting.distance_km_week
    FROM unnest(fittings) AS asked(id)
    JOIN fittings_choice choice ON choice.fitting_id = asked.id
    JOIN fittings_fitting fitting ON fitting.id = choice.fitting_id
    JOIN catalogue_scorecard card ON card.id = choice.score_card_id
), told AS (
    SELECT fitting_id, bool_or(NOT told.now) AS has_past, count(*) AS complaints
    FROM base JOIN fittings_historyitem told USING (fitting_id) GROUP BY fitting_id
), follow AS MATERIALIZED (
    SELECT follow.id, fitting_id, follow.due_on, (follow.answered_at AT TIME ZONE zone)::date AS day,
        follow.distance_km_week AS km_week, follow.recurrence <> '' AS came_back, follow.free_of_complaints AS free
    FROM base JOIN fittings_followup follow USING (fitting_id)
), heard AS (
    SELECT fitting_id, min(day) FILTER (WHERE free) AS free_on, max(day) AS last_on FROM follow GROUP BY fitting_id
), open AS (
    SELECT fitting_id, min(follow.due_on) AS waits_since FROM follow JOIN heard USING (fitting_id)
    WHERE follow.day IS NULL AND follow.due_on > coalesce(heard.last_on, '-infinity') GROUP BY fitting_id
), chosen AS MATERIALIZED (
    SELECT base.*, coalesce(told.complaints, 0) AS complaints, heard.last_on IS NOT NULL AS answered, open.waits_since,
        CASE WHEN told.has_past THEN base.chosen_on WHEN told.complaints > 0 THEN heard.free_on END AS start
    FROM base LEFT JOIN told USING (fitting_id) LEFT JOIN heard USING (fitting_id) LEFT JOIN open USING (fitting_id)
), step AS (
    SELECT fitting_id, chosen.start, follow.day, follow.due_on, follow.id,
        coalesce(follow.km_week, chosen.distance_km_week) AS km_week,
        lag(follow.day, 1, chosen.start) OVER person AS before,
        min(follow.day) FILTER (WHERE follow.came_back) OVER (PARTITION BY fitting_id) AS back_on,
        max(follow.day) FILTER (WHERE follow.came_back OR follow.free IS NOT NULL)
            OVER (PARTITION BY fitting_id) AS known_on
    FROM chosen JOIN follow USING (fitting_id) WHERE follow.day > chosen.start
    WINDOW person AS (PARTITION BY fitting_id ORDER BY follow.day, follow.due_on, follow.id)
), at_risk AS (
    -- Added up in one order, so that the same answers always give the same last digit.
    SELECT fitting_id, max(day) - min(start) AS days,
        CASE WHEN bool_and(km_week IS NOT NULL OR day = before)
            THEN coalesce(sum(km_week * (day - before) / 7.0 ORDER BY day, due_on, id), 0) END AS km,
        min(back_on) IS NOT NULL AS recurred
    FROM step WHERE day <= known_on AND (back_on IS NULL OR day <= back_on) GROUP BY fitting_id
)
SELECT chosen.fitting_id, store_id, fitter_id, shoe_id, band_id, use, in_target, chosen_on, complaints::smallint,
    answered, waits_since, at_risk.days, at_risk.km, coalesce(at_risk.recurred, false)
FROM chosen LEFT JOIN at_risk USING (fitting_id)
$$;
"""
# What was recorded before says no more than this: signs that are there were asked about, and an answer without a place
# may have left the question about pain out.
EARLIER_ROWS = [
    "UPDATE fittings_fitting SET stop_signs_asked = true WHERE cardinality(stop_signs) > 0",
    "UPDATE fittings_followup SET free_of_complaints = NULL WHERE free_of_complaints AND NOT EXISTS"
    " (SELECT FROM fittings_painreport pain WHERE pain.follow_up_id = fittings_followup.id)",
]
FILL = "SELECT fittings_courses_refresh(ARRAY(SELECT fitting_id FROM fittings_choice), %s)"


def fill(apps: Any, schema_editor: Any) -> None:
    with schema_editor.connection.cursor() as cursor:
        cursor.execute(FILL, [settings.TIME_ZONE])


class Migration(migrations.Migration):
    dependencies: ClassVar = [("fittings", "0007_pain_and_stop_signs_answered")]

    operations: ClassVar = [
        migrations.RunSQL(EARLIER_ROWS, migrations.RunSQL.noop),
        migrations.RunSQL(COURSES_OF, migrations.RunSQL.noop),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
