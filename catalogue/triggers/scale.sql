-- A change of a scale or of one of its bands moves the catalogue's revision. Every card shows its band: where one
-- changed, all shoes are read again. A new band is on no card yet.

CREATE OR REPLACE FUNCTION catalogue_scale_changed() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    touched bigint[] := ARRAY[]::bigint[];
BEGIN
    PERFORM catalogue_revise(true);
    IF TG_OP = 'UPDATE' THEN
        IF EXISTS (SELECT FROM new_rows) THEN
            touched := NULL;
        END IF;
    END IF;
    PERFORM catalogue_note_shoes(touched);
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER catalogue_scale_changed AFTER INSERT OR DELETE ON catalogue_scale
    FOR EACH STATEMENT EXECUTE FUNCTION catalogue_scale_changed();
CREATE OR REPLACE TRIGGER catalogue_scale_changed_update AFTER UPDATE ON catalogue_scale
    REFERENCING NEW TABLE AS new_rows FOR EACH STATEMENT EXECUTE FUNCTION catalogue_scale_changed();
CREATE OR REPLACE TRIGGER catalogue_scale_changed AFTER INSERT OR DELETE ON catalogue_band
    FOR EACH STATEMENT EXECUTE FUNCTION catalogue_scale_changed();
CREATE OR REPLACE TRIGGER catalogue_scale_changed_update AFTER UPDATE ON catalogue_band
    REFERENCING NEW TABLE AS new_rows FOR EACH STATEMENT EXECUTE FUNCTION catalogue_scale_changed();
