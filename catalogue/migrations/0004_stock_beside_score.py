"""The score of a shoe beside its stock, kept by triggers, with the indexes that a fitting's question reads."""

from __future__ import annotations

from typing import ClassVar

from django.db import migrations, models

# Whatever is written to the column, the current score card says what stands there.
OF_STOCK = """
CREATE FUNCTION catalogue_score_beside_stock() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    NEW.stability := (SELECT stability FROM catalogue_scorecard WHERE shoe_id = NEW.shoe_id AND is_current);
    RETURN NEW;
END $$;
CREATE TRIGGER catalogue_score_beside_stock BEFORE INSERT OR UPDATE ON catalogue_stockitem
    FOR EACH ROW EXECUTE FUNCTION catalogue_score_beside_stock();
"""
OF_CARDS = """
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
FILL = "UPDATE catalogue_stockitem SET stability = NULL;"
DROP = [
    "DROP TRIGGER catalogue_score_to_stock ON catalogue_scorecard;",
    "DROP FUNCTION catalogue_score_to_stock();",
    "DROP TRIGGER catalogue_score_beside_stock ON catalogue_stockitem;",
    "DROP FUNCTION catalogue_score_beside_stock();",
]


class Migration(migrations.Migration):
    dependencies: ClassVar = [("catalogue", "0003_search_marks_allowance")]

    operations: ClassVar = [
        migrations.AddField("stockitem", "stability", models.FloatField(editable=False, null=True)),
        migrations.AddIndex(
            "stockitem",
            models.Index(
                condition=models.Q(("quantity__gt", 0)),
                fields=["store", "size_eu", "stability"],
                include=("shoe",),
                name="stock_by_size_and_score",
            ),
        ),
        migrations.AddIndex(
            "stockitem",
            models.Index(
                condition=models.Q(("quantity__gt", 0)),
                fields=["shoe", "size_eu", "store"],
                name="stock_by_shoe_and_size",
            ),
        ),
        migrations.RunSQL([OF_STOCK, OF_CARDS, FILL], DROP),
    ]
