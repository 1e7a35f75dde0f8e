-- A change of a store moves the catalogue's revision: public pages show its name, address and hours.

CREATE OR REPLACE TRIGGER catalogue_store_changed AFTER INSERT OR UPDATE OR DELETE ON core_store
    FOR EACH STATEMENT EXECUTE FUNCTION catalogue_pages_changed();
