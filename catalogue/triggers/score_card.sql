-- A change of score cards moves the catalogue's revision, is listed shoe by shoe, and reaches the copy of the current
-- score that every line of stock has beside it (stock_item.sql), which a fitting reads by index.

CREATE OR REPLACE FUNCTION catalogue_scorecard_changed() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    PERFORM catalogue_revise(true);
    -- Whatever is written to the stock's column, the trigger of the stock puts the current card's score there. One
    -- statement for all cards: a new scoring model changes every shoe at once.
    IF TG_OP = 'INSERT' THEN
        PERFORM catalogue_note_shoes(ARRAY(SELECT DISTINCT shoe_id FROM new_rows));
        UPDATE catalogue_stockitem SET stability = NULL WHERE shoe_id IN (SELECT shoe_id FROM new_rows WHERE is_current);
    ELSIF TG_OP = 'DELETE' THEN
        PERFORM catalogue_note_shoes(ARRAY(SELECT DISTINCT shoe_id FROM old_rows));
        UPDATE catalogue_stockitem SET stability = NULL WHERE shoe_id IN (SELECT shoe_id FROM old_rows WHERE is_current);
    ELSE
        PERFORM catalogue_note_shoes(
            ARRAY(SELECT DISTINCT shoe_id FROM new_rows) || ARRAY(SELECT DISTINCT shoe_id FROM old_rows)
        );
        UPDATE catalogue_stockitem SET stability = NULL WHERE shoe_id IN (
            SELECT shoe_id FROM (
                (
                    SELECT id, shoe_id, stability, is_current FROM old_rows
                    EXCEPT SELECT id, shoe_id, stability, is_current FROM new_rows
                )
                UNION
                (
                    SELECT id, shoe_id, stability, is_current FROM new_rows
                    EXCEPT SELECT id, shoe_id, stability, is_current FROM old_rows
                )
            ) AS differing
        );
    END IF;
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER catalogue_scorecard_changed_insert AFTER INSERT ON catalogue_scorecard
    REFERENCING NEW TABLE AS new_rows FOR EACH STATEMENT EXECUTE FUNCTION catalogue_scorecard_changed();
CREATE OR REPLACE TRIGGER catalogue_scorecard_changed_update AFTER UPDATE ON catalogue_scorecard
    REFERENCING OLD TABLE AS old_rows NEW TABLE AS new_rows
    FOR EACH STATEMENT EXECUTE FUNCTION catalogue_scorecard_changed();
CREATE OR REPLACE TRIGGER catalogue_scorecard_changed_delete AFTER DELETE ON catalogue_scorecard
    REFERENCING OLD TABLE AS old_rows FOR EACH STATEMENT EXECUTE FUNCTION catalogue_scorecard_changed();
