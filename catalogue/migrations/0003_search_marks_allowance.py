"""What finding shoes stands on: a search document a shoe, a revision of the shoes alone, sizes by index, an allowance.

The search document lives in a table of its own, so that the audit trail's copies of a shoe stay what people wrote.
"""

from __future__ import annotations

from typing import ClassVar

import django.contrib.postgres.indexes
import django.contrib.postgres.search
import django.db.models.deletion
from django.db import migrations, models

# Stock changes all day; what was measured hardly ever. Large tables in memory follow the second number alone.
REVISE = """
CREATE OR REPLACE FUNCTION catalogue_revise() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    of_shoes integer := CASE WHEN TG_TABLE_NAME IN ('catalogue_stockitem', 'core_store') THEN 0 ELSE 1 END;
BEGIN
    INSERT INTO catalogue_cataloguerevision AS revision (id, number, changed_at, shoes_number, shoes_changed_at)
    VALUES (1, 1, clock_timestamp(), 1, clock_timestamp())
    ON CONFLICT (id) DO UPDATE SET
        number = revision.number + 1,
        changed_at = clock_timestamp(),
        shoes_number = revision.shoes_number + of_shoes,
        shoes_changed_at = CASE of_shoes WHEN 1 THEN clock_timestamp() ELSE revision.shoes_changed_at END;
    RETURN NULL;
END $$;
"""
REVISE_BEFORE = """
CREATE OR REPLACE FUNCTION catalogue_revise() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO catalogue_cataloguerevision AS revision (id, number, changed_at) VALUES (1, 1, clock_timestamp())
    ON CONFLICT (id) DO UPDATE SET number = revision.number + 1, changed_at = clock_timestamp();
    RETURN NULL;
END $$;
"""

# The marks between words become blanks, as in catalogue/searching.py: else "Wi-Fi" and "3/4" would be words of a kind.
DOCUMENT = r"""
CREATE FUNCTION catalogue_search_document(brand text, name text, version text) RETURNS tsvector
LANGUAGE sql IMMUTABLE AS $$
    SELECT to_tsvector('simple', regexp_replace(brand || ' ' || name || ' ' || version, '[^[:alnum:]]+', ' ', 'g'))
$$;
CREATE FUNCTION catalogue_search_shoe() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO catalogue_shoesearch (shoe_id, document)
    SELECT NEW.id, catalogue_search_document(brand.name, NEW.name, NEW.version)
    FROM catalogue_brand AS brand WHERE brand.id = NEW.brand_id
    ON CONFLICT (shoe_id) DO UPDATE SET document = EXCLUDED.document;
    RETURN NULL;
END $$;
CREATE FUNCTION catalogue_search_brand() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    UPDATE catalogue_shoesearch AS search
    SET document = catalogue_search_document(NEW.name, shoe.name, shoe.version)
    FROM catalogue_shoe AS shoe WHERE shoe.id = search.shoe_id AND shoe.brand_id = NEW.id;
    RETURN NULL;
END $$;
CREATE TRIGGER catalogue_search_shoe AFTER INSERT OR UPDATE OF brand_id, name, version ON catalogue_shoe
    FOR EACH ROW EXECUTE FUNCTION catalogue_search_shoe();
CREATE TRIGGER catalogue_search_brand AFTER UPDATE OF name ON catalogue_brand
    FOR EACH ROW EXECUTE FUNCTION catalogue_search_brand();
INSERT INTO catalogue_shoesearch (shoe_id, document)
    SELECT shoe.id, catalogue_search_document(brand.name, shoe.name, shoe.version)
    FROM catalogue_shoe AS shoe JOIN catalogue_brand AS brand ON brand.id = shoe.brand_id;
"""
DOCUMENT_BEFORE = """
DROP TRIGGER catalogue_search_brand ON catalogue_brand;
DROP TRIGGER catalogue_search_shoe ON catalogue_shoe;
DROP FUNCTION catalogue_search_brand();
DROP FUNCTION catalogue_search_shoe();
DROP FUNCTION catalogue_search_document(text, text, text);
"""


class Migration(migrations.Migration):
    dependencies: ClassVar = [("catalogue", "0002_catalogue_revision")]

    operations: ClassVar = [
        migrations.AddField("cataloguerevision", "shoes_number", models.BigIntegerField(default=0)),
        migrations.AddField("cataloguerevision", "shoes_changed_at", models.DateTimeField(null=True)),
        migrations.RunSQL(REVISE, REVISE_BEFORE),
        migrations.CreateModel(
            name="ShoeSearch",
            fields=[
                (
                    "shoe",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="search",
                        serialize=False,
                        to="catalogue.shoe",
                    ),
                ),
                ("document", django.contrib.postgres.search.SearchVectorField()),
            ],
            options={
                "indexes": [
                    django.contrib.postgres.indexes.GinIndex(fields=["document"], name="shoe_search_document"),
                ],
            },
        ),
        migrations.RunSQL(DOCUMENT, DOCUMENT_BEFORE),
        migrations.AddIndex(
            "stockitem",
            models.Index(
                fields=["size_eu", "shoe"], condition=models.Q(("quantity__gt", 0)), name="stock_item_size_there"
            ),
        ),
        migrations.CreateModel(
            name="ApiAllowance",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("address", models.CharField(max_length=45)),
                ("minute", models.BigIntegerField()),
                ("requests", models.IntegerField(default=1)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("minute", "address"), name="api_allowance_once"),
                ],
            },
        ),
        # Counts of the last minutes: nothing to keep over a crash, so nothing to write to the log.
        migrations.RunSQL(
            "ALTER TABLE catalogue_apiallowance SET UNLOGGED", "ALTER TABLE catalogue_apiallowance SET LOGGED"
        ),
    ]
