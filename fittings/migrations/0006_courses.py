"""The course of every fitting kept in a table of its own, by triggers, so that outcomes are read and not worked out."""

from __future__ import annotations

from typing import Any, ClassVar

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

# The rules of the time at risk, as in fittings/domain/person_time.py. A choice is at risk from its day where a
# complaint had settled, else from the first answer that is free of those told; km hold back to the answer before.
COURSES_OF = """
CREATE FUNCTION fittings_courses_of(fittings bigint[], zone text) RETURNS SETOF fittings_course
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
        coalesce(follow.km_week, chosen.distance_km_week, 0) AS km_week,
        lag(follow.day, 1, chosen.start) OVER person AS before,
        min(follow.day) FILTER (WHERE follow.came_back) OVER (PARTITION BY fitting_id) AS back_on
    FROM chosen JOIN follow USING (fitting_id) WHERE follow.day > chosen.start
    WINDOW person AS (PARTITION BY fitting_id ORDER BY follow.day, follow.due_on, follow.id)
), at_risk AS (
    -- Added up in one order, so that the same answers always give the same last digit.
    SELECT fitting_id, max(day) - min(start) AS days,
        sum(km_week * (day - before) / 7.0 ORDER BY day, due_on, id) AS km, min(back_on) IS NOT NULL AS recurred
    FROM step WHERE back_on IS NULL OR day <= back_on GROUP BY fitting_id
)
SELECT chosen.fitting_id, store_id, fitter_id, shoe_id, band_id, use, in_target, chosen_on, complaints::smallint,
    answered, waits_since, at_risk.days, at_risk.km, coalesce(at_risk.recurred, false)
FROM chosen LEFT JOIN at_risk USING (fitting_id)
$$;
"""

# The fittings are locked first and read afterwards: of two answers at once the second sees the first. For one fitting
# the plan, made anew each time, would take most of the time (6 of 8 ms); for many, one made for few would be too slow.
REFRESH = """
CREATE FUNCTION fittings_courses_refresh(changed bigint[], zone text) RETURNS void LANGUAGE plpgsql
SET plan_cache_mode = force_generic_plan AS $$
DECLARE
    ids bigint[] := ARRAY(
        SELECT fitting_id FROM fittings_choice WHERE fitting_id = ANY(changed)
        UNION SELECT fitting_id FROM fittings_course WHERE fitting_id = ANY(changed)
    );
BEGIN
    IF cardinality(ids) = 0 THEN
        RETURN;
    END IF;
    PERFORM 1 FROM fittings_fitting WHERE id = ANY(ids) ORDER BY id FOR NO KEY UPDATE;
    DELETE FROM fittings_course WHERE fitting_id = ANY(ids);
    IF cardinality(ids) < 50 THEN
        INSERT INTO fittings_course SELECT * FROM fittings_courses_of(ids, zone);
    ELSE
        EXECUTE 'INSERT INTO fittings_course SELECT * FROM fittings_courses_of($1, $2)' USING ids, zone;
    END IF;
END $$;

CREATE FUNCTION fittings_courses_follow() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    ids bigint[];
BEGIN
    EXECUTE format('SELECT array_agg(DISTINCT %I) FROM changed', TG_ARGV[0]) INTO ids;
    IF ids IS NOT NULL THEN
        PERFORM fittings_courses_refresh(ids, coalesce(nullif(current_setting('benchlast.zone', true), ''), 'UTC'));
    END IF;
    RETURN NULL;
END $$;
"""

WATCHED = (
    ("fittings_choice", "fitting_id", ("INSERT", "UPDATE", "DELETE")),
    ("fittings_historyitem", "fitting_id", ("INSERT", "UPDATE", "DELETE")),
    ("fittings_followup", "fitting_id", ("INSERT", "UPDATE", "DELETE")),
    ("fittings_fitting", "id", ("UPDATE",)),
)
NAMES = [(table, key, event, f"courses_after_{event.lower()}") for table, key, events in WATCHED for event in events]
FOLLOW = [
    f"CREATE TRIGGER {name} AFTER {event} ON {table}"
    f" REFERENCING {'OLD' if event == 'DELETE' else 'NEW'} TABLE AS changed"
    f" FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('{key}')"
    for table, key, event, name in NAMES
]
LEAVE = [
    *(f"DROP TRIGGER {name} ON {table}" for table, _, _, name in NAMES),
    "DROP FUNCTION fittings_courses_follow()",
    "DROP FUNCTION fittings_courses_refresh(bigint[], text)",
    "DROP FUNCTION fittings_courses_of(bigint[], text)",
]
FILL = "SELECT fittings_courses_refresh(ARRAY(SELECT fitting_id FROM fittings_choice), %s)"


def fill(apps: Any, schema_editor: Any) -> None:
    with schema_editor.connection.cursor() as cursor:
        cursor.execute(FILL, [settings.TIME_ZONE])


def beside(to: str) -> models.ForeignKey[Any, Any]:
    return models.ForeignKey(
        db_constraint=False,
        db_index=False,
        on_delete=django.db.models.deletion.DO_NOTHING,
        related_name="+",
        to=to,
    )


class Migration(migrations.Migration):
    dependencies: ClassVar = [
        ("fittings", "0005_rules_versions_and_second_look"),
        ("catalogue", "0007_stock_indexes_once"),
        ("core", "0003_account_sessions"),
    ]

    operations: ClassVar = [
        migrations.CreateModel(
            name="Course",
            fields=[
                (
                    "fitting",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="course",
                        serialize=False,
                        to="fittings.fitting",
                    ),
                ),
                ("store", beside("core.store")),
                ("fitter", beside(settings.AUTH_USER_MODEL)),
                ("shoe", beside("catalogue.shoe")),
                ("band", beside("catalogue.band")),
                ("use", models.CharField(max_length=10)),
                ("in_target", models.BooleanField()),
                ("chosen_on", models.DateField()),
                ("complaints", models.PositiveSmallIntegerField()),
                ("answered", models.BooleanField()),
                (
                    "waits_since",
                    models.DateField(help_text="The first follow-up due after the last answer, still open.", null=True),
                ),
                (
                    "days",
                    models.PositiveIntegerField(help_text="At risk of a recurrence; null where never.", null=True),
                ),
                ("km", models.FloatField(null=True)),
                ("recurred", models.BooleanField()),
            ],
            options={"ordering": ["fitting"]},
        ),
        migrations.AddIndex("course", models.Index(fields=["store", "chosen_on"], name="course_by_store_and_day")),
        migrations.RunSQL([COURSES_OF, REFRESH, *FOLLOW], LEAVE),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
