"""Which shoes each statement changed, and how much each store and each shoe has in stock: kept by triggers.

Two indexes of the stock go as well: others begin with the same column.
"""

from __future__ import annotations

from typing import ClassVar

import django.contrib.postgres.fields
import django.db.models.deletion
from django.db import migrations, models

# More shoes than that are read anew rather than one by one.
LISTED_MOST = 5000
REMEMBERED = 1000

# Statements that change shoes wait for each other at the revision's row, which the trigger `catalogue_revise_…` of the
# same statement has changed just before (triggers fire by name). So a number stands for everything up to it.
CHANGES = """
CREATE FUNCTION catalogue_note_shoes(touched bigint[]) RETURNS void LANGUAGE sql AS $$
    INSERT INTO catalogue_shoeschange AS known (number, changed_at, shoes)
    SELECT shoes_number, shoes_changed_at, CASE WHEN cardinality(touched) <= LISTED_MOST THEN touched END
    FROM catalogue_cataloguerevision
    ON CONFLICT (number) DO UPDATE SET shoes = known.shoes || EXCLUDED.shoes;
    DELETE FROM catalogue_shoeschange
    WHERE number <= (SELECT shoes_number FROM catalogue_cataloguerevision) - REMEMBERED;
$$;
CREATE FUNCTION catalogue_revised_shoes() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    touched bigint[] := ARRAY[]::bigint[];
BEGIN
    CASE TG_TABLE_NAME
    WHEN 'catalogue_scorecard' THEN
        IF TG_OP <> 'DELETE' THEN
            touched := touched || ARRAY(SELECT DISTINCT shoe_id FROM come);
        END IF;
        IF TG_OP <> 'INSERT' THEN
            touched := touched || ARRAY(SELECT DISTINCT shoe_id FROM gone);
        END IF;
    WHEN 'catalogue_shoe' THEN
        -- A new shoe is not published yet; one that is removed was not.
        IF TG_OP = 'UPDATE' THEN
            touched := ARRAY(SELECT id FROM come);
        END IF;
    WHEN 'catalogue_brand' THEN
        IF TG_OP = 'UPDATE' THEN
            touched := ARRAY(SELECT id FROM catalogue_shoe WHERE brand_id IN (SELECT id FROM come));
        END IF;
    ELSE
        -- A changed band or scale is in every card; a new one in none.
        IF TG_OP = 'UPDATE' AND EXISTS (SELECT FROM come) THEN
            touched := NULL;
        END IF;
    END CASE;
    PERFORM catalogue_note_shoes(touched);
    RETURN NULL;
END $$;
""".replace("LISTED_MOST", str(LISTED_MOST)).replace("REMEMBERED", str(REMEMBERED))
# What is held in memory now can be mended from now on.
BEGIN = """
INSERT INTO catalogue_shoeschange (number, changed_at, shoes)
    SELECT shoes_number, shoes_changed_at, ARRAY[]::bigint[] FROM catalogue_cataloguerevision
    WHERE shoes_changed_at IS NOT NULL;
"""
REFERENCING = {
    "INSERT": "NEW TABLE AS come",
    "UPDATE": "OLD TABLE AS gone NEW TABLE AS come",
    "DELETE": "OLD TABLE AS gone",
}
SHOE_TABLES = ("catalogue_brand", "catalogue_shoe", "catalogue_scale", "catalogue_band", "catalogue_scorecard")


def _triggers(function: str, tables: tuple[str, ...]) -> str:
    return "\n".join(
        f"CREATE TRIGGER {function}_{event.lower()} AFTER {event} ON {table} REFERENCING {rows}"
        f" FOR EACH STATEMENT EXECUTE FUNCTION {function}();"
        for table in tables
        for event, rows in REFERENCING.items()
    )


def _dropped(function: str, tables: tuple[str, ...]) -> str:
    drops = [f"DROP TRIGGER {function}_{event.lower()} ON {table};" for table in tables for event in REFERENCING]
    return "\n".join([*drops, f"DROP FUNCTION {function}();"])


# One statement for all cards of a statement: a new scoring model changes every shoe at once. Whatever is written to
# the column, the trigger of the stock puts the current card's score there.
SCORES = """
DROP TRIGGER catalogue_score_to_stock ON catalogue_scorecard;
DROP FUNCTION catalogue_score_to_stock();
CREATE FUNCTION catalogue_score_to_stock() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'INSERT' THEN
        UPDATE catalogue_stockitem SET stability = NULL WHERE shoe_id IN (SELECT shoe_id FROM come WHERE is_current);
    ELSIF TG_OP = 'DELETE' THEN
        UPDATE catalogue_stockitem SET stability = NULL WHERE shoe_id IN (SELECT shoe_id FROM gone WHERE is_current);
    ELSE
        UPDATE catalogue_stockitem SET stability = NULL WHERE shoe_id IN (
            SELECT shoe_id FROM (
                (SELECT id, shoe_id, stability, is_current FROM gone EXCEPT TABLE come_of_cards)
                UNION (TABLE come_of_cards EXCEPT SELECT id, shoe_id, stability, is_current FROM gone)
            ) AS differing
        );
    END IF;
    RETURN NULL;
END $$;
""".replace("TABLE come_of_cards", "SELECT id, shoe_id, stability, is_current FROM come")
SCORES_BEFORE = """
CREATE FUNCTION catalogue_score_to_stock() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP <> 'INSERT' THEN
        UPDATE catalogue_stockitem SET stability = NULL WHERE shoe_id = OLD.shoe_id;
    END IF;
    IF TG_OP = 'INSERT' AND NEW.is_current OR TG_OP = 'UPDATE' AND NEW.shoe_id <> OLD.shoe_id THEN
        UPDATE catalogue_stockitem SET stability = NULL WHERE shoe_id = NEW.shoe_id;
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER catalogue_score_to_stock AFTER INSERT OR DELETE OR UPDATE OF shoe_id, stability, is_current
    ON catalogue_scorecard FOR EACH ROW EXECUTE FUNCTION catalogue_score_to_stock();
"""

# Counted anew for the stores and shoes that a statement touched, after the wait at the revision's row: so two who
# change the same store at once see each other's lines. A shoe in stock with a score beside it is a published one.
HOLDINGS = """
CREATE FUNCTION catalogue_hold_stores(touched bigint[]) RETURNS void LANGUAGE sql AS $$
    INSERT INTO catalogue_storeholding (store_id, shoes)
    SELECT store.id, (
        SELECT count(DISTINCT shoe_id) FROM catalogue_stockitem
        WHERE store_id = store.id AND quantity > 0 AND stability IS NOT NULL
    )
    FROM core_store AS store WHERE store.id = ANY(touched)
    ON CONFLICT (store_id) DO UPDATE SET shoes = EXCLUDED.shoes
    WHERE catalogue_storeholding.shoes <> EXCLUDED.shoes;
$$;
CREATE FUNCTION catalogue_hold_shoes(touched bigint[]) RETURNS void LANGUAGE sql AS $$
    INSERT INTO catalogue_shoeholding (shoe_id, stores)
    SELECT shoe.id, (
        SELECT count(DISTINCT store_id) FROM catalogue_stockitem WHERE shoe_id = shoe.id AND quantity > 0
    )
    FROM catalogue_shoe AS shoe WHERE shoe.id = ANY(touched)
    ON CONFLICT (shoe_id) DO UPDATE SET stores = EXCLUDED.stores
    WHERE catalogue_shoeholding.stores <> EXCLUDED.stores;
$$;
CREATE FUNCTION catalogue_revised_stock() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    stores bigint[] := ARRAY[]::bigint[];
    shoes bigint[] := ARRAY[]::bigint[];
BEGIN
    IF TG_OP = 'INSERT' THEN
        stores := ARRAY(SELECT DISTINCT store_id FROM come);
        shoes := ARRAY(SELECT DISTINCT shoe_id FROM come);
    ELSIF TG_OP = 'DELETE' THEN
        stores := ARRAY(SELECT DISTINCT store_id FROM gone);
        shoes := ARRAY(SELECT DISTINCT shoe_id FROM gone);
    ELSE
        -- Only where something begins or ends to be in stock or published; most changes are of pairs alone.
        stores := ARRAY(
            SELECT now.store_id FROM come AS now JOIN gone AS before USING (id)
            WHERE (now.store_id, now.shoe_id, now.quantity > 0, now.stability IS NULL)
                <> (before.store_id, before.shoe_id, before.quantity > 0, before.stability IS NULL)
            UNION
            SELECT before.store_id FROM come AS now JOIN gone AS before USING (id)
            WHERE (now.store_id, now.shoe_id, now.quantity > 0, now.stability IS NULL)
                <> (before.store_id, before.shoe_id, before.quantity > 0, before.stability IS NULL)
        );
        shoes := ARRAY(
            SELECT now.shoe_id FROM come AS now JOIN gone AS before USING (id)
            WHERE (now.store_id, now.shoe_id, now.quantity > 0)
                <> (before.store_id, before.shoe_id, before.quantity > 0)
            UNION
            SELECT before.shoe_id FROM come AS now JOIN gone AS before USING (id)
            WHERE (now.store_id, now.shoe_id, now.quantity > 0)
                <> (before.store_id, before.shoe_id, before.quantity > 0)
        );
    END IF;
    PERFORM catalogue_hold_stores(stores);
    PERFORM catalogue_hold_shoes(shoes);
    RETURN NULL;
END $$;
"""
HOLDINGS_BEFORE = """
DROP FUNCTION catalogue_hold_shoes(bigint[]);
DROP FUNCTION catalogue_hold_stores(bigint[]);
"""
COUNT = """
SELECT catalogue_hold_stores(ARRAY(SELECT id FROM core_store));
INSERT INTO catalogue_shoeholding (shoe_id, stores)
    SELECT shoe_id, count(DISTINCT store_id) FROM catalogue_stockitem WHERE quantity > 0 GROUP BY shoe_id;
"""
STOCK = ("catalogue_stockitem",)
CARDS = ("catalogue_scorecard",)


def _held_once(model: str) -> models.OneToOneField:
    return models.OneToOneField(
        on_delete=django.db.models.deletion.CASCADE,
        primary_key=True,
        related_name="holding",
        serialize=False,
        to=model,
    )


class Migration(migrations.Migration):
    dependencies: ClassVar = [("catalogue", "0007_stock_indexes_once"), ("core", "0003_account_sessions")]

    operations: ClassVar = [
        migrations.CreateModel(
            "ShoesChange",
            [
                ("number", models.BigIntegerField(primary_key=True, serialize=False)),
                ("changed_at", models.DateTimeField()),
                (
                    "shoes",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.BigIntegerField(), null=True, size=None
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            "StoreHolding",
            [("store", _held_once("core.store")), ("shoes", models.IntegerField(default=0))],
        ),
        migrations.CreateModel(
            "ShoeHolding",
            [("shoe", _held_once("catalogue.shoe")), ("stores", models.IntegerField(default=0))],
        ),
        migrations.RunSQL(
            [CHANGES, _triggers("catalogue_revised_shoes", SHOE_TABLES), BEGIN],
            [_dropped("catalogue_revised_shoes", SHOE_TABLES), "DROP FUNCTION catalogue_note_shoes(bigint[]);"],
        ),
        migrations.RunSQL(
            [SCORES, _triggers("catalogue_score_to_stock", CARDS)],
            [_dropped("catalogue_score_to_stock", CARDS), SCORES_BEFORE],
        ),
        migrations.RunSQL(
            [HOLDINGS, _triggers("catalogue_revised_stock", STOCK), COUNT],
            [_dropped("catalogue_revised_stock", STOCK), HOLDINGS_BEFORE],
        ),
        migrations.RemoveIndex("stockitem", "stock_by_shoe_and_size"),
        migrations.AddIndex(
            "stockitem",
            models.Index(fields=["shoe", "size_eu", "store"], include=("quantity",), name="stock_by_shoe"),
        ),
        migrations.AlterField(
            "stockitem",
            "shoe",
            models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="stock",
                to="catalogue.shoe",
            ),
        ),
        migrations.AlterField(
            "stockitem",
            "store",
            models.ForeignKey(
                db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name="stock", to="core.store"
            ),
        ),
    ]
