-- A change of curves moves the catalogue's revision: the pages of shoes draw them, and readers must not be answered that
-- their page is unchanged. Nothing that is held in memory shows them, so no shoe is listed as changed.

CREATE OR REPLACE FUNCTION catalogue_scorecurve_changed() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    PERFORM catalogue_revise(false);
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER catalogue_scorecurve_changed
    AFTER INSERT OR UPDATE OR DELETE ON catalogue_scorecurve
    FOR EACH STATEMENT EXECUTE FUNCTION catalogue_scorecurve_changed();
