"""The catalogue's revision: one row, moved on by every statement that changes what the catalogue shows."""

from __future__ import annotations

from typing import ClassVar

from django.db import migrations, models

TABLES = (
    "catalogue_brand",
    "catalogue_shoe",
    "catalogue_scale",
    "catalogue_band",
    "catalogue_scorecard",
    "catalogue_stockitem",
    "core_store",
)

# A row and not a sequence: the new number is seen when the change is, not before, so that nobody keeps an old page
# under a new number.
FUNCTION = """
CREATE FUNCTION catalogue_revise() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO catalogue_cataloguerevision AS revision (id, number, changed_at) VALUES (1, 1, clock_timestamp())
    ON CONFLICT (id) DO UPDATE SET number = revision.number + 1, changed_at = clock_timestamp();
    RETURN NULL;
END $$;
"""


def _name(table: str) -> str:
    return f"catalogue_revise_{table}"


CREATE = "\n".join(
    f"CREATE TRIGGER {_name(table)} AFTER INSERT OR UPDATE OR DELETE ON {table}"
    " FOR EACH STATEMENT EXECUTE FUNCTION catalogue_revise();"
    for table in TABLES
)
DROP = "\n".join(f"DROP TRIGGER {_name(table)} ON {table};" for table in TABLES)


class Migration(migrations.Migration):
    dependencies: ClassVar = [("catalogue", "0001_initial"), ("core", "0001_initial")]

    operations: ClassVar = [
        migrations.CreateModel(
            name="CatalogueRevision",
            fields=[
                ("id", models.SmallIntegerField(default=1, primary_key=True, serialize=False)),
                ("number", models.BigIntegerField(default=0)),
                ("changed_at", models.DateTimeField()),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("id", 1)), name="catalogue_revision_one_row")
                ],
            },
        ),
        migrations.RunSQL([FUNCTION, CREATE], [DROP, "DROP FUNCTION catalogue_revise();"]),
    ]
