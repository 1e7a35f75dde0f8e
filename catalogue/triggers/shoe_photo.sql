-- A change of a photo moves the catalogue's revision: the shoe's page shows it, and readers must not be told that their
-- page is unchanged. Lists and what is held in memory do not show photos, so no shoe is listed as changed.

CREATE OR REPLACE FUNCTION catalogue_shoe_photo_changed() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    PERFORM catalogue_revise(false);
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER catalogue_shoe_photo_changed AFTER INSERT OR UPDATE OR DELETE ON catalogue_shoephoto
    FOR EACH STATEMENT EXECUTE FUNCTION catalogue_shoe_photo_changed();
