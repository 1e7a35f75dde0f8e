-- Stands in for the foreign keys of results. Results are written by the million, and foreign keys checked row by row
-- took three to six times as long as writing the rows. Results of uploads are checked here; those of an adoption are
-- made from the tests themselves, under a lock, and sealed in the trail.

CREATE OR REPLACE FUNCTION labtests_result_refers() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    PERFORM FROM labtests_benchtest WHERE id = NEW.test_id FOR KEY SHARE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'There is no bench test %.', NEW.test_id USING ERRCODE = 'foreign_key_violation';
    END IF;
    PERFORM FROM labtests_scoringmodel WHERE id = NEW.scoring_model_id FOR KEY SHARE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'There is no scoring model %.', NEW.scoring_model_id USING ERRCODE = 'foreign_key_violation';
    END IF;
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER labtests_result_refers AFTER INSERT OR UPDATE ON labtests_result
    FOR EACH ROW WHEN (NEW.adoption_id IS NULL) EXECUTE FUNCTION labtests_result_refers();

-- And nothing can be deleted that results refer to. The argument is the column of the results.
CREATE OR REPLACE FUNCTION labtests_result_keeps() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    is_used boolean;
BEGIN
    EXECUTE format('SELECT EXISTS (SELECT FROM labtests_result WHERE %I = $1)', TG_ARGV[0]) INTO is_used USING OLD.id;
    IF is_used THEN
        RAISE EXCEPTION '% % has results.', TG_TABLE_NAME, OLD.id USING ERRCODE = 'foreign_key_violation';
    END IF;
    RETURN OLD;
END $$;

CREATE OR REPLACE TRIGGER labtests_result_keeps BEFORE DELETE ON labtests_benchtest
    FOR EACH ROW EXECUTE FUNCTION labtests_result_keeps('test_id');
CREATE OR REPLACE TRIGGER labtests_result_keeps BEFORE DELETE ON labtests_scoringmodel
    FOR EACH ROW EXECUTE FUNCTION labtests_result_keeps('scoring_model_id');
CREATE OR REPLACE TRIGGER labtests_result_keeps BEFORE DELETE ON labtests_adoption
    FOR EACH ROW EXECUTE FUNCTION labtests_result_keeps('adoption_id');
