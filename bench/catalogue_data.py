"""A catalogue of any size, made in the database itself: shoes, score cards, 500 stores, 50 lines of stock a shoe.

Invented by arithmetic: nothing of it is a shoe. Loaded with triggers off and past the services, which a bench may and
nothing else: it is there to be read.
"""

from __future__ import annotations

from django.db import connection

from core.database.roles import as_owner

STORES = 500
BRANDS = 200
LINES_A_SHOE = 50

STEPS = (
    "SELECT setseed(0.25)",
    f"""INSERT INTO core_store (slug, name, street, postcode, town, phone, hours, size_system, currency)
        SELECT 'store-' || lpad(i::text, 3, '0'), 'Store ' || i, '', '', 'Town ' || i, '', '', 'eu', 'EUR'
        FROM generate_series(1, {STORES}) AS i""",
    """INSERT INTO core_user (password, is_superuser, username, first_name, last_name, email, is_staff, is_active,
                               date_joined, is_demo, must_change_password, session_epoch)
        VALUES ('!', false, 'bench', '', '', '', false, true, now(), false, false, 0)""",
    f"""INSERT INTO catalogue_brand (slug, name)
        SELECT 'brand-' || lpad(i::text, 3, '0'), 'Brand ' || i FROM generate_series(1, {BRANDS}) AS i""",
    """INSERT INTO catalogue_shoe (slug, name, version, use, mass_g, stack_heel_mm, stack_forefoot_mm,
                                   is_discontinued, brand_id, wearer, widths, season, list_prices, note,
                                   alternative_names)
        SELECT 'shoe-' || lpad(i::text, 6, '0'), 'Model ' || i, (i %% 5 + 1)::text,
               CASE i %% 10 WHEN 0 THEN 'standing' WHEN 1 THEN 'walking' ELSE 'running' END,
               CASE WHEN i %% 50 = 0 THEN NULL ELSE round(180 + random() * 160) END,
               round(26 + random() * 16), round(18 + random() * 8), i %% 20 = 0,
               (SELECT min(id) FROM catalogue_brand) + i %% (SELECT count(*) FROM catalogue_brand),
               (ARRAY['all', 'men', 'women'])[i %% 3 + 1], ARRAY['D'], '',
               jsonb_build_object('EUR', (90 + i %% 90)::text), '', ARRAY[]::text[]
        FROM generate_series(1, %(shoes)s) AS i""",
    """INSERT INTO catalogue_shoesearch (shoe_id, document)
        SELECT shoe.id, catalogue_search_document(brand.name, shoe.name, shoe.version)
        FROM catalogue_shoe AS shoe JOIN catalogue_brand AS brand ON brand.id = shoe.brand_id""",
    """WITH measured AS (
            SELECT shoe.id, 20 + 75 * random() AS midfoot, 20 + 75 * random() AS rearfoot, 20 + 70 * random() AS work
            FROM catalogue_shoe AS shoe
        ), scored AS (SELECT *, 0.54 * midfoot + 0.46 * rearfoot AS stability FROM measured)
        INSERT INTO catalogue_scorecard (shoe_id, scale_id, band_id, stability, midfoot, rearfoot, cushioning,
            stability_u, midfoot_u, rearfoot_u, cushioning_u, cushioning_estimated, band_probability, is_borderline,
            is_provisional, specimens, tested_on, scoring_model, protocol, is_current, published_at, published_by_id,
            reason, withdrawn_because)
        SELECT scored.id, band.scale_id, band.id, stability, midfoot, rearfoot, work,
               0.6 + random(), 0.8 + random(), 0.8 + random(), 0.6 + random(), scored.id %% 7 = 0, 0.93,
               scored.id %% 9 = 0, scored.id %% 11 = 0, 2, date '2026-03-04' - (scored.id %% 300)::integer, 'S1', 'P1',
               true, timestamptz '2026-03-05 10:00+00' - (scored.id %% 300) * interval '1 day',
               (SELECT id FROM core_user WHERE username = 'bench'), 'bench', ''
        FROM scored JOIN catalogue_band AS band
             ON (band.lower IS NULL OR stability >= band.lower) AND (band.upper IS NULL OR stability < band.upper)""",
    f"""INSERT INTO catalogue_stockitem (store_id, shoe_id, size_eu, quantity, stability)
        SELECT (SELECT min(id) FROM core_store) + (card.shoe_id * 7 + k * 101) %% {STORES}, card.shoe_id,
               36 + 0.5 * ((card.shoe_id + k) %% 15 + step), (card.shoe_id + step * 3 + k) %% 5, card.stability
        FROM catalogue_scorecard AS card, generate_series(0, 4) AS k,
             generate_series(0, {LINES_A_SHOE // 5 - 1}) AS step
        WHERE card.is_current ORDER BY 1, 2, 3""",
    # What triggers count, which are off here.
    """INSERT INTO catalogue_shoeholding (shoe_id, stores)
        SELECT shoe_id, count(DISTINCT store_id) FROM catalogue_stockitem WHERE quantity > 0 GROUP BY shoe_id""",
    "SELECT catalogue_hold_stores(ARRAY(SELECT id FROM core_store))",
    """UPDATE catalogue_cataloguerevision SET number = number + 1, changed_at = clock_timestamp(),
        shoes_number = shoes_number + 1, shoes_changed_at = clock_timestamp()""",
    """INSERT INTO catalogue_shoeschange (number, changed_at, shoes)
        SELECT shoes_number, shoes_changed_at, ARRAY[]::bigint[] FROM catalogue_cataloguerevision""",
)


def is_loaded(shoes: int) -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM catalogue_shoe")
        return bool(cursor.fetchone()[0] == shoes)


def load(shoes: int) -> None:
    """Fill an empty, migrated database."""
    with as_owner(), connection.cursor() as cursor:
        cursor.execute("SET session_replication_role = replica")
        for step in STEPS:
            cursor.execute(step, {"shoes": shoes} if "%(" in step or "%%" in step else None)
        cursor.execute("SET session_replication_role = origin")
        cursor.execute("VACUUM ANALYZE")
