-- Keeps the course of every fitting with a choice: answered or waiting, time and distance at risk, recurrence. Worked
-- out on reading, a million follow-ups took 20 s; so statements on choices, complaints, follow-ups and fittings work the
-- courses of their fittings out again, in the same transaction.

-- A choice is at risk from its day where a complaint had settled, else from the first answer that is free of all
-- complaints of the fitting; a distance a week counts back to the answer before. Time after the last answer that says
-- whether a complaint is there was not watched, and a missing distance leaves the sum null. tests/reference/person_time.py has the
-- same rules person by person, and a test holds the two together.
--
-- No SET here: with one the planner could not put the query into the statement that asks. Its tables are named with
-- their schema instead.
CREATE OR REPLACE FUNCTION fittings_courses_of(fittings bigint[], zone text)
RETURNS TABLE (
    fitting_id bigint, store_id bigint, fitter_id bigint, shoe_id bigint, band_id bigint, use character varying,
    in_target boolean, chosen_on date, complaints smallint, answered boolean, waits_since date,
    days integer, km double precision, recurred boolean
)
LANGUAGE sql STABLE AS $$
WITH base AS MATERIALIZED (
    SELECT fitting.id AS fitting_id, fitting.store_id, fitting.fitter_id, choice.shoe_id, card.band_id, fitting.use,
        choice.in_target, (choice.at AT TIME ZONE zone)::date AS chosen_on, fitting.distance_km_week
    FROM unnest(fittings) AS asked(id)
    JOIN public.fittings_choice choice ON choice.fitting_id = asked.id
    JOIN public.fittings_fitting fitting ON fitting.id = choice.fitting_id
    JOIN public.catalogue_scorecard card ON card.id = choice.score_card_id
), history AS (
    SELECT fitting_id, bool_or(NOT item.now) AS has_past, count(*) AS complaints
    FROM base JOIN public.fittings_historyitem item USING (fitting_id) GROUP BY fitting_id
), follow AS MATERIALIZED (
    SELECT follow.id, fitting_id, follow.due_on, (follow.answered_at AT TIME ZONE zone)::date AS day,
        follow.distance_km_week AS km_week, follow.recurrence <> '' AS came_back, follow.free_of_complaints AS free
    FROM base JOIN public.fittings_followup follow USING (fitting_id)
), answer AS (
    SELECT fitting_id, min(day) FILTER (WHERE free) AS free_on, max(day) AS last_on FROM follow GROUP BY fitting_id
), open AS (
    SELECT fitting_id, min(follow.due_on) AS waits_since FROM follow JOIN answer USING (fitting_id)
    WHERE follow.day IS NULL AND follow.due_on > coalesce(answer.last_on, '-infinity') GROUP BY fitting_id
), chosen AS MATERIALIZED (
    SELECT base.*, coalesce(history.complaints, 0) AS complaints, answer.last_on IS NOT NULL AS answered,
        open.waits_since,
        CASE WHEN history.has_past THEN base.chosen_on WHEN history.complaints > 0 THEN answer.free_on END AS start
    FROM base LEFT JOIN history USING (fitting_id) LEFT JOIN answer USING (fitting_id)
    LEFT JOIN open USING (fitting_id)
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

-- The fittings are locked first and read afterwards: of two answers at once the second sees the first. For one fitting
-- a plan made each time would take most of the time (6 of 8 ms); for many, one made for few would be too slow.
CREATE OR REPLACE FUNCTION fittings_courses_refresh(changed bigint[], zone text) RETURNS void
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp SET plan_cache_mode = force_generic_plan AS $$
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
        INSERT INTO fittings_course (
            fitting_id, store_id, fitter_id, shoe_id, band_id, use, in_target, chosen_on, complaints,
            answered, waits_since, days, km, recurred
        ) SELECT * FROM fittings_courses_of(ids, zone);
    ELSE
        EXECUTE '
            INSERT INTO fittings_course (
                fitting_id, store_id, fitter_id, shoe_id, band_id, use, in_target, chosen_on, complaints,
                answered, waits_since, days, km, recurred
            ) SELECT * FROM fittings_courses_of($1, $2)' USING ids, zone;
    END IF;
END $$;

-- The argument is the column that names the fitting. The application sets `benchlast.zone` on each connection.
CREATE OR REPLACE FUNCTION fittings_courses_follow() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    ids bigint[];
BEGIN
    EXECUTE format('SELECT array_agg(DISTINCT %I) FROM changed', TG_ARGV[0]) INTO ids;
    IF ids IS NOT NULL THEN
        PERFORM fittings_courses_refresh(ids, coalesce(nullif(current_setting('benchlast.zone', true), ''), 'UTC'));
    END IF;
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER fittings_courses_after_insert AFTER INSERT ON fittings_choice
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('fitting_id');
CREATE OR REPLACE TRIGGER fittings_courses_after_update AFTER UPDATE ON fittings_choice
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('fitting_id');
CREATE OR REPLACE TRIGGER fittings_courses_after_delete AFTER DELETE ON fittings_choice
    REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('fitting_id');

CREATE OR REPLACE TRIGGER fittings_courses_after_insert AFTER INSERT ON fittings_historyitem
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('fitting_id');
CREATE OR REPLACE TRIGGER fittings_courses_after_update AFTER UPDATE ON fittings_historyitem
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('fitting_id');
CREATE OR REPLACE TRIGGER fittings_courses_after_delete AFTER DELETE ON fittings_historyitem
    REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('fitting_id');

CREATE OR REPLACE TRIGGER fittings_courses_after_insert AFTER INSERT ON fittings_followup
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('fitting_id');
CREATE OR REPLACE TRIGGER fittings_courses_after_update AFTER UPDATE ON fittings_followup
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('fitting_id');
CREATE OR REPLACE TRIGGER fittings_courses_after_delete AFTER DELETE ON fittings_followup
    REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('fitting_id');

CREATE OR REPLACE TRIGGER fittings_courses_after_update AFTER UPDATE ON fittings_fitting
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('id');
