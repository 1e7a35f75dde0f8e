-- A change of a shoe moves the catalogue's revision and is listed for those who hold shoes in memory.

CREATE OR REPLACE FUNCTION catalogue_shoe_changed() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    touched bigint[] := ARRAY[]::bigint[];
BEGIN
    PERFORM catalogue_revise(true);
    -- A new shoe is not published yet; one that is removed was not.
    IF TG_OP = 'UPDATE' THEN
        touched := ARRAY(SELECT id FROM new_rows);
    END IF;
    PERFORM catalogue_note_shoes(touched);
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER catalogue_shoe_changed AFTER INSERT OR DELETE ON catalogue_shoe
    FOR EACH STATEMENT EXECUTE FUNCTION catalogue_shoe_changed();
CREATE OR REPLACE TRIGGER catalogue_shoe_changed_update AFTER UPDATE ON catalogue_shoe
    REFERENCING NEW TABLE AS new_rows FOR EACH STATEMENT EXECUTE FUNCTION catalogue_shoe_changed();
