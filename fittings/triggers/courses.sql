-- Stores how every complaint of everybody who chose a shoe went: time and distance at risk, recurrence, and why somebody
-- is left out. Worked out on reading, a million follow-ups took 20 s; so statements on choices, corrections, complaints,
-- follow-ups, reports of pain and fittings work the courses of their people out again, in the same transaction.

-- A course is one complaint of one person, over all their fittings: complaints of one region are the same where the side
-- is the same, or where one of them names no side. It begins on the day of the first choice with the complaint recorded,
-- if it had settled then, otherwise on the first day known to be free of it. It ends on the first day on which it is
-- known to be there again, or on the last day of which anything is known: every fitting and every answered follow-up may
-- say "there", "not there" or nothing, and nothing is never taken for "not there". A distance a week counts back to
-- the follow-up answered before; where a part is not known, the km of the course are null. Each shoe chosen meanwhile
-- has its own part of the time: the time with a shoe ends on the day of the next choice, of an exchange or of its
-- return. A choice taken back as a mistake was never made. Of several pairs chosen at one fitting the first counts; the
-- others have a row that is left out (6), because what happens can't be put down to one of them, and distances are taken
-- from the follow-ups of the first. A contact outside the schedule says "there" of what it names, and never "not there":
-- people call when something hurts. tests/reference/person_time.py has the same rules person by person, and a test
-- holds the two together.
--
-- No SET here: with one the planner could not put the query into the statement that asks. Its tables are named with
-- their schema instead.
CREATE OR REPLACE FUNCTION fittings_courses_of(customers bigint[], zone text)
RETURNS TABLE (
    customer_id bigint, fitting_id bigint, choice_id bigint, region character varying, side character varying,
    store_id bigint, fitter_id bigint, shoe_id bigint, band_id bigint, use character varying,
    in_target boolean, chosen_on date, complaints smallint, answered boolean, waits_since date, left_out smallint,
    entered_days integer, free_until_days integer, days integer, km double precision, recurred boolean,
    visits smallint, visits_open smallint
)
LANGUAGE sql STABLE AS $$
WITH chosen AS MATERIALIZED (
    SELECT fitting.id AS fitting_id, fitting.customer_id, fitting.store_id, fitting.fitter_id, fitting.use,
        choice.id AS choice_id, choice.shoe_id, choice.score_card_id, choice.in_target, choice.at, choice.pair,
        (choice.at AT TIME ZONE zone)::date AS day, (correction.at AT TIME ZONE zone)::date AS given_back_on
    FROM unnest(customers) AS asked(id)
    JOIN public.fittings_fitting fitting ON fitting.customer_id = asked.id
    JOIN public.fittings_choice choice ON choice.fitting_id = fitting.id
    LEFT JOIN public.fittings_correction correction ON correction.choice_id = choice.id
    WHERE correction.kind IS DISTINCT FROM 'mistake'
), fitted AS MATERIALIZED (
    SELECT fitting.id AS fitting_id, fitting.customer_id, first.day IS NOT NULL AS chose,
        coalesce(first.day, (fitting.at AT TIME ZONE zone)::date) AS day
    FROM unnest(customers) AS asked(id)
    JOIN public.fittings_fitting fitting ON fitting.customer_id = asked.id
    LEFT JOIN (SELECT fitting_id, min(day) AS day FROM chosen GROUP BY fitting_id) first
        ON first.fitting_id = fitting.id
), pair AS MATERIALIZED (
    SELECT chosen.*, card.band_id
    FROM chosen JOIN public.catalogue_scorecard card ON card.id = chosen.score_card_id
), worn AS MATERIALIZED (
    SELECT pair.*, least(
            lead(pair.day) OVER (PARTITION BY customer_id ORDER BY at, fitting_id, choice_id), given_back_on
        ) AS changed_on
    FROM pair WHERE pair.pair = 1
), stated AS MATERIALIZED (
    SELECT fitted.customer_id, fitted.fitting_id, fitted.chose, fitted.day, item.region, item.now AS hurts,
        CASE WHEN bool_or(item.side IN ('', 'both')) OVER (PARTITION BY fitted.customer_id, item.region) THEN ''
            ELSE item.side END AS side
    FROM fitted JOIN public.fittings_historyitem item USING (fitting_id)
), complaint AS MATERIALIZED (
    SELECT customer_id, region, side, min(day) FILTER (WHERE chose) AS stated_on
    FROM stated GROUP BY customer_id, region, side HAVING bool_or(chose)
), answer AS MATERIALIZED (
    SELECT follow.id, customer_id, fitting_id, (follow.answered_at AT TIME ZONE zone)::date AS day,
        follow.distance_km_week AS km_week, follow.nothing_hurts, follow.pair, follow.weeks > 0 AS is_scheduled
    FROM (SELECT DISTINCT customer_id, fitting_id FROM chosen) fitting
    JOIN public.fittings_followup follow USING (fitting_id) WHERE follow.answered_at IS NOT NULL
), reply AS MATERIALIZED (
    SELECT answer.id, customer_id, region, complaint.side, answer.fitting_id, answer.day, answer.is_scheduled,
        CASE WHEN pain.worst > 0 THEN true WHEN NOT answer.is_scheduled THEN NULL
            WHEN pain.worst = 0 OR answer.nothing_hurts THEN false END AS hurts
    FROM complaint JOIN answer USING (customer_id)
    LEFT JOIN LATERAL (
        SELECT max(report.score) AS worst FROM public.fittings_painreport report
        WHERE report.follow_up_id = answer.id AND report.region = complaint.region
            AND (complaint.side = '' OR report.side IN (complaint.side, '', 'both'))
    ) pain ON true
    WHERE answer.day >= complaint.stated_on
), seen AS MATERIALIZED (
    SELECT customer_id, region, side, day, bool_or(hurts) AS hurts
    FROM (
        SELECT customer_id, region, side, day, hurts FROM stated
        UNION ALL SELECT customer_id, region, side, day, hurts FROM reply WHERE hurts IS NOT NULL
    ) known GROUP BY customer_id, region, side, day
), begun AS (
    SELECT customer_id, region, side, stated_on, min(seen.day) FILTER (WHERE NOT seen.hurts) AS start
    FROM complaint JOIN seen USING (customer_id, region, side)
    WHERE seen.day >= stated_on GROUP BY customer_id, region, side, stated_on
), watched AS MATERIALIZED (
    SELECT customer_id, region, side, start, back_on, coalesce(back_on, max(day)) AS ended_on,
        coalesce(max(day) FILTER (WHERE back_on IS NULL OR day < back_on), start) AS free_on
    FROM (
        SELECT begun.*, seen.day, min(seen.day) FILTER (WHERE seen.hurts) OVER course AS back_on
        FROM begun JOIN seen USING (customer_id, region, side) WHERE seen.day > begun.start
        WINDOW course AS (PARTITION BY customer_id, region, side)
    ) later GROUP BY customer_id, region, side, start, back_on
), ridden AS (
    -- Two distances of one day are averaged.
    SELECT customer_id, day, avg(km_week) AS km_week, lag(day) OVER (PARTITION BY customer_id ORDER BY day) AS before
    FROM answer WHERE pair = 1 AND is_scheduled GROUP BY customer_id, day
), step AS MATERIALIZED (
    SELECT customer_id, region, side, km_week, greatest(before, start) AS before, least(day, ended_on) AS day
    FROM watched JOIN ridden USING (customer_id) WHERE day > start AND coalesce(before < ended_on, true)
), covered AS (
    SELECT customer_id, region, side, sum(day - before) AS days FROM step WHERE km_week IS NOT NULL
    GROUP BY customer_id, region, side
), part AS MATERIALIZED (
    SELECT customer_id, region, side, watched.start, free_on, back_on, worn.fitting_id, worn.choice_id,
        greatest(watched.start, worn.day) AS from_on, least(ended_on, coalesce(changed_on, 'infinity')) AS to_on,
        covered.days = ended_on - watched.start AS has_km
    FROM watched JOIN worn USING (customer_id) LEFT JOIN covered USING (customer_id, region, side)
    WHERE greatest(watched.start, worn.day) < least(ended_on, coalesce(changed_on, 'infinity'))
), at_risk AS (
    -- Added up in one order, so that the same answers always give the same last digit.
    SELECT part.*, sum(
            km_week * (least(step.day, part.to_on) - greatest(step.before, part.from_on)) / 7.0 ORDER BY step.day
        ) AS km
    FROM part LEFT JOIN step ON part.has_km AND step.customer_id = part.customer_id AND step.region = part.region
        AND step.side = part.side AND step.day > part.from_on AND step.before < part.to_on
    GROUP BY part.customer_id, part.region, part.side, part.start, free_on, back_on, fitting_id, choice_id, from_on,
        to_on, has_km
), person AS (
    SELECT customer_id, count(answer.id) > 0 AS answered, max(answer.day) AS last_on
    FROM (SELECT DISTINCT customer_id FROM chosen) people LEFT JOIN answer USING (customer_id) GROUP BY customer_id
), contact AS (
    SELECT customer_id, greatest(max(person.last_on), max(chosen.day)) AS last_on
    FROM chosen JOIN person USING (customer_id) GROUP BY customer_id
), open AS (
    SELECT customer_id, min(follow.due_on) AS waits_since
    FROM (SELECT DISTINCT customer_id, fitting_id FROM chosen) fitting
    JOIN public.fittings_followup follow USING (fitting_id) JOIN contact USING (customer_id)
    WHERE follow.answered_at IS NULL AND follow.closed_at IS NULL AND follow.due_on > contact.last_on
    GROUP BY customer_id
), asked AS (
    SELECT customer_id, bool_or(start IS NOT NULL) AS was_free FROM begun GROUP BY customer_id
), said AS (
    SELECT customer_id, bool_or(hurts IS NOT NULL) AS any_known FROM reply GROUP BY customer_id
), visit AS (
    SELECT fitting_id, count(*) AS visits, count(*) FILTER (WHERE is_open) AS visits_open
    FROM (
        SELECT fitting_id, id, bool_or(hurts IS NULL) AS is_open FROM reply WHERE is_scheduled GROUP BY fitting_id, id
    ) each
    GROUP BY fitting_id
), stated_at AS (
    SELECT fitting_id, count(DISTINCT (region, side)) AS complaints FROM stated GROUP BY fitting_id
)
SELECT customer_id, pair.fitting_id, pair.choice_id, coalesce(at_risk.region, ''), coalesce(at_risk.side, ''),
    pair.store_id, pair.fitter_id, pair.shoe_id, pair.band_id, pair.use, pair.in_target, pair.day,
    coalesce(stated_at.complaints, 0)::smallint, person.answered, open.waits_since,
    CASE WHEN at_risk.choice_id IS NOT NULL THEN NULL WHEN pair.pair > 1 THEN 6 WHEN asked.customer_id IS NULL THEN 1
        WHEN NOT person.answered THEN 2 WHEN NOT coalesce(said.any_known, false) THEN 3
        WHEN NOT asked.was_free THEN 4 ELSE 5 END::smallint,
    at_risk.from_on - at_risk.start, least(at_risk.free_on, at_risk.to_on) - at_risk.start,
    at_risk.to_on - at_risk.start, at_risk.km, coalesce(at_risk.to_on = at_risk.back_on, false),
    -- Follow-ups are counted once a fitting: with its first choice, and that one's first complaint.
    CASE WHEN row_number() OVER each_fitting = 1 THEN coalesce(visit.visits, 0) ELSE 0 END::smallint,
    CASE WHEN row_number() OVER each_fitting = 1 THEN coalesce(visit.visits_open, 0) ELSE 0 END::smallint
FROM pair JOIN person USING (customer_id)
LEFT JOIN open USING (customer_id) LEFT JOIN asked USING (customer_id) LEFT JOIN said USING (customer_id)
LEFT JOIN visit USING (fitting_id) LEFT JOIN stated_at USING (fitting_id)
LEFT JOIN at_risk USING (customer_id, fitting_id, choice_id)
WINDOW each_fitting AS (PARTITION BY pair.fitting_id ORDER BY pair.choice_id, at_risk.region, at_risk.side)
$$;

-- The fittings of the people are locked first, in one order, and read afterwards: of two answers at once the second
-- sees the first. For one person a plan made each time would take most of the time; for many, one made for few would be
-- too slow.
CREATE OR REPLACE FUNCTION fittings_courses_refresh(changed bigint[], zone text) RETURNS void
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp SET plan_cache_mode = force_generic_plan AS $$
DECLARE
    people bigint[] := ARRAY(
        SELECT customer_id FROM fittings_fitting fitting WHERE id = ANY(changed) AND EXISTS (
            SELECT FROM fittings_fitting other JOIN fittings_choice choice ON choice.fitting_id = other.id
            WHERE other.customer_id = fitting.customer_id)
        UNION SELECT customer_id FROM fittings_course WHERE fitting_id = ANY(changed)
    );
BEGIN
    IF cardinality(people) = 0 THEN
        RETURN;
    END IF;
    PERFORM 1 FROM fittings_fitting WHERE customer_id = ANY(people) ORDER BY id FOR NO KEY UPDATE;
    DELETE FROM fittings_course WHERE customer_id = ANY(people);
    IF cardinality(people) < 50 THEN
        INSERT INTO fittings_course (
            customer_id, fitting_id, choice_id, region, side, store_id, fitter_id, shoe_id, band_id, use, in_target,
            chosen_on, complaints, answered, waits_since, left_out, entered_days, free_until_days, days, km, recurred,
            visits, visits_open
        ) SELECT * FROM fittings_courses_of(people, zone);
    ELSE
        EXECUTE '
            INSERT INTO fittings_course (
                customer_id, fitting_id, choice_id, region, side, store_id, fitter_id, shoe_id, band_id, use, in_target,
                chosen_on, complaints, answered, waits_since, left_out, entered_days, free_until_days, days, km, recurred,
                visits, visits_open
            ) SELECT * FROM fittings_courses_of($1, $2)' USING people, zone;
    END IF;
END $$;

-- The argument is the column that names the fitting, or the follow-up or the choice of one. The application sets
-- `benchlast.zone` on each connection.
CREATE OR REPLACE FUNCTION fittings_courses_follow() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    ids bigint[];
BEGIN
    IF TG_ARGV[0] = 'follow_up_id' THEN
        SELECT array_agg(DISTINCT follow.fitting_id) INTO ids
        FROM changed JOIN fittings_followup follow ON follow.id = changed.follow_up_id;
    ELSIF TG_ARGV[0] = 'choice_id' THEN
        SELECT array_agg(DISTINCT choice.fitting_id) INTO ids
        FROM changed JOIN fittings_choice choice ON choice.id = changed.choice_id;
    ELSE
        EXECUTE format('SELECT array_agg(DISTINCT %I) FROM changed', TG_ARGV[0]) INTO ids;
    END IF;
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

CREATE OR REPLACE TRIGGER fittings_courses_after_insert AFTER INSERT ON fittings_correction
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('choice_id');
CREATE OR REPLACE TRIGGER fittings_courses_after_update AFTER UPDATE ON fittings_correction
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('choice_id');
CREATE OR REPLACE TRIGGER fittings_courses_after_delete AFTER DELETE ON fittings_correction
    REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('choice_id');

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

CREATE OR REPLACE TRIGGER fittings_courses_after_insert AFTER INSERT ON fittings_painreport
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('follow_up_id');
CREATE OR REPLACE TRIGGER fittings_courses_after_update AFTER UPDATE ON fittings_painreport
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('follow_up_id');
CREATE OR REPLACE TRIGGER fittings_courses_after_delete AFTER DELETE ON fittings_painreport
    REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('follow_up_id');

CREATE OR REPLACE TRIGGER fittings_courses_after_update AFTER UPDATE ON fittings_fitting
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION fittings_courses_follow('id');
