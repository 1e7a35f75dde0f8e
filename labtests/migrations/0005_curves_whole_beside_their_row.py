"""Curves stand in their row as they are; indexes go whose columns another one begins with."""

from __future__ import annotations

from typing import ClassVar

import django.db.models.deletion
from django.db import migrations, models

# Measured points hardly shrink: trying to compress them took longer than storing them. Up to some 500 points a branch
# now stand in the row, longer ones beside it. Rows that are there stay as they were written.
WHOLE = """
ALTER TABLE labtests_curve SET (toast_tuple_target = 8160);
ALTER TABLE labtests_curve ALTER COLUMN position SET STORAGE EXTERNAL, ALTER COLUMN load SET STORAGE EXTERNAL;
ALTER TABLE labtests_upload ALTER COLUMN data SET STORAGE EXTERNAL;
"""
UNDO = """
ALTER TABLE labtests_curve RESET (toast_tuple_target);
ALTER TABLE labtests_curve ALTER COLUMN position SET STORAGE EXTENDED, ALTER COLUMN load SET STORAGE EXTENDED;
ALTER TABLE labtests_upload ALTER COLUMN data SET STORAGE EXTENDED;
"""


class Migration(migrations.Migration):
    dependencies: ClassVar = [("labtests", "0004_model_adoption")]

    operations: ClassVar = [
        migrations.AlterField(
            model_name="curve",
            name="test",
            field=models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="curves",
                to="labtests.benchtest",
            ),
        ),
        migrations.AlterField(
            model_name="reading",
            name="test",
            field=models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="readings",
                to="labtests.benchtest",
            ),
        ),
        migrations.RunSQL(WHOLE, UNDO),
    ]
