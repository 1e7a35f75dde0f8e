-- Keeps the score of a shoe beside its lines of stock, and counts, after every change of stock, the published shoes of
-- each store and the stores of each shoe. Counted when asked, millions of lines took seconds after every change.

-- Whatever is written to the column, the current score card decides what it holds.
CREATE OR REPLACE FUNCTION catalogue_score_beside_stock() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
BEGIN
    NEW.stability := (SELECT stability FROM catalogue_scorecard WHERE shoe_id = NEW.shoe_id AND is_current);
    RETURN NEW;
END $$;

CREATE OR REPLACE TRIGGER catalogue_score_beside_stock BEFORE INSERT OR UPDATE ON catalogue_stockitem
    FOR EACH ROW EXECUTE FUNCTION catalogue_score_beside_stock();

-- A shoe in stock with a score beside it is a published one.
CREATE OR REPLACE FUNCTION catalogue_hold_stores(touched bigint[]) RETURNS void
LANGUAGE sql SET search_path = pg_catalog, public, pg_temp AS $$
    INSERT INTO catalogue_storeholding (store_id, shoes)
    SELECT store.id, (
        SELECT count(DISTINCT shoe_id) FROM catalogue_stockitem
        WHERE store_id = store.id AND quantity > 0 AND stability IS NOT NULL
    )
    FROM core_store AS store WHERE store.id = ANY(touched)
    ON CONFLICT (store_id) DO UPDATE SET shoes = EXCLUDED.shoes
    WHERE catalogue_storeholding.shoes <> EXCLUDED.shoes;
$$;

CREATE OR REPLACE FUNCTION catalogue_hold_shoes(touched bigint[]) RETURNS void
LANGUAGE sql SET search_path = pg_catalog, public, pg_temp AS $$
    INSERT INTO catalogue_shoeholding (shoe_id, stores)
    SELECT shoe.id, (
        SELECT count(DISTINCT store_id) FROM catalogue_stockitem WHERE shoe_id = shoe.id AND quantity > 0
    )
    FROM catalogue_shoe AS shoe WHERE shoe.id = ANY(touched)
    ON CONFLICT (shoe_id) DO UPDATE SET stores = EXCLUDED.stores
    WHERE catalogue_shoeholding.stores <> EXCLUDED.stores;
$$;

-- The stores and shoes that a statement touched are counted after the wait at the revision's row: two who change the
-- same store at once see each other's lines.
CREATE OR REPLACE FUNCTION catalogue_stockitem_changed() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    stores bigint[];
    shoes bigint[];
BEGIN
    PERFORM catalogue_revise(false);
    IF TG_OP = 'INSERT' THEN
        stores := ARRAY(SELECT DISTINCT store_id FROM new_rows);
        shoes := ARRAY(SELECT DISTINCT shoe_id FROM new_rows);
    ELSIF TG_OP = 'DELETE' THEN
        stores := ARRAY(SELECT DISTINCT store_id FROM old_rows);
        shoes := ARRAY(SELECT DISTINCT shoe_id FROM old_rows);
    ELSE
        -- Only where something begins or ends to be in stock or published; most changes are of pairs alone.
        stores := ARRAY(
            SELECT now.store_id FROM new_rows AS now JOIN old_rows AS before USING (id)
            WHERE (now.store_id, now.shoe_id, now.quantity > 0, now.stability IS NULL)
                <> (before.store_id, before.shoe_id, before.quantity > 0, before.stability IS NULL)
            UNION
            SELECT before.store_id FROM new_rows AS now JOIN old_rows AS before USING (id)
            WHERE (now.store_id, now.shoe_id, now.quantity > 0, now.stability IS NULL)
                <> (before.store_id, before.shoe_id, before.quantity > 0, before.stability IS NULL)
        );
        shoes := ARRAY(
            SELECT now.shoe_id FROM new_rows AS now JOIN old_rows AS before USING (id)
            WHERE (now.store_id, now.shoe_id, now.quantity > 0)
                <> (before.store_id, before.shoe_id, before.quantity > 0)
            UNION
            SELECT before.shoe_id FROM new_rows AS now JOIN old_rows AS before USING (id)
            WHERE (now.store_id, now.shoe_id, now.quantity > 0)
                <> (before.store_id, before.shoe_id, before.quantity > 0)
        );
    END IF;
    PERFORM catalogue_hold_stores(stores);
    PERFORM catalogue_hold_shoes(shoes);
    RETURN NULL;
END $$;

CREATE OR REPLACE TRIGGER catalogue_stockitem_changed_insert AFTER INSERT ON catalogue_stockitem
    REFERENCING NEW TABLE AS new_rows FOR EACH STATEMENT EXECUTE FUNCTION catalogue_stockitem_changed();
CREATE OR REPLACE TRIGGER catalogue_stockitem_changed_update AFTER UPDATE ON catalogue_stockitem
    REFERENCING OLD TABLE AS old_rows NEW TABLE AS new_rows
    FOR EACH STATEMENT EXECUTE FUNCTION catalogue_stockitem_changed();
CREATE OR REPLACE TRIGGER catalogue_stockitem_changed_delete AFTER DELETE ON catalogue_stockitem
    REFERENCING OLD TABLE AS old_rows FOR EACH STATEMENT EXECUTE FUNCTION catalogue_stockitem_changed();
