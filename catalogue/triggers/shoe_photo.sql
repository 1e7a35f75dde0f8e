-- A change of a photo moves the catalogue's revision and lists the shoe for those who hold shoes in memory: the shoe's
-- page and the lists show its photo, and readers must not be answered that their page is unchanged.

CREATE OR REPLACE FUNCTION catalogue_shoe_photo_changed() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    PERFORM catalogue_revise(true);
    PERFORM catalogue_note_shoes(ARRAY(SELECT shoe_id FROM touched_rows));
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER catalogue_shoe_photo_added AFTER INSERT ON catalogue_shoephoto
    REFERENCING NEW TABLE AS touched_rows FOR EACH STATEMENT EXECUTE FUNCTION catalogue_shoe_photo_changed();
CREATE OR REPLACE TRIGGER catalogue_shoe_photo_changed AFTER UPDATE ON catalogue_shoephoto
    REFERENCING NEW TABLE AS touched_rows FOR EACH STATEMENT EXECUTE FUNCTION catalogue_shoe_photo_changed();
CREATE OR REPLACE TRIGGER catalogue_shoe_photo_removed AFTER DELETE ON catalogue_shoephoto
    REFERENCING OLD TABLE AS touched_rows FOR EACH STATEMENT EXECUTE FUNCTION catalogue_shoe_photo_changed();
