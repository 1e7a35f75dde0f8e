-- A change of a store moves the catalogue's revision: public pages show its name, address and hours.

CREATE OR REPLACE FUNCTION catalogue_store_changed() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    PERFORM catalogue_revise(false);
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER catalogue_store_changed AFTER INSERT OR UPDATE OR DELETE ON core_store
    FOR EACH STATEMENT EXECUTE FUNCTION catalogue_store_changed();
