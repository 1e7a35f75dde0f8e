-- A change of a brand moves the catalogue's revision; a renamed brand is a change of each of its shoes.

CREATE OR REPLACE FUNCTION catalogue_brand_changed() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    touched bigint[] := ARRAY[]::bigint[];
BEGIN
    PERFORM catalogue_revise(true);
    IF TG_OP = 'UPDATE' THEN
        touched := ARRAY(SELECT id FROM catalogue_shoe WHERE brand_id IN (SELECT id FROM new_rows));
    END IF;
    PERFORM catalogue_note_shoes(touched);
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER catalogue_brand_changed AFTER INSERT OR DELETE ON catalogue_brand
    FOR EACH STATEMENT EXECUTE FUNCTION catalogue_brand_changed();
CREATE OR REPLACE TRIGGER catalogue_brand_changed_update AFTER UPDATE ON catalogue_brand
    REFERENCING NEW TABLE AS new_rows FOR EACH STATEMENT EXECUTE FUNCTION catalogue_brand_changed();
