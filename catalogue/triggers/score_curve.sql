-- A change of curves moves the catalogue's revision: the pages of shoes draw them, and readers must not be answered that
-- their page is unchanged.

CREATE OR REPLACE TRIGGER catalogue_scorecurve_changed
    AFTER INSERT OR UPDATE OR DELETE ON catalogue_scorecurve
    FOR EACH STATEMENT EXECUTE FUNCTION catalogue_pages_changed();
