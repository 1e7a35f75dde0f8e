"""Curves, uploaded files and budgets are stored uncompressed: compressing them took longer than storing them.

Measured points hardly shrink. With the larger target a branch of up to some 500 points stays in its row.
"""

from __future__ import annotations

from typing import ClassVar

from django.db import migrations

STORAGE = """
ALTER TABLE labtests_curve SET (toast_tuple_target = 8160);
ALTER TABLE labtests_curve ALTER COLUMN position SET STORAGE EXTERNAL, ALTER COLUMN load SET STORAGE EXTERNAL;
ALTER TABLE labtests_upload ALTER COLUMN data SET STORAGE EXTERNAL;
ALTER TABLE labtests_result ALTER COLUMN budgets SET STORAGE EXTERNAL;
"""
UNDO = """
ALTER TABLE labtests_curve RESET (toast_tuple_target);
ALTER TABLE labtests_curve ALTER COLUMN position SET STORAGE EXTENDED, ALTER COLUMN load SET STORAGE EXTENDED;
ALTER TABLE labtests_upload ALTER COLUMN data SET STORAGE EXTENDED;
ALTER TABLE labtests_result ALTER COLUMN budgets SET STORAGE EXTENDED;
"""


class Migration(migrations.Migration):
    dependencies: ClassVar = [("labtests", "0001_initial")]

    operations: ClassVar = [migrations.RunSQL(STORAGE, UNDO)]
