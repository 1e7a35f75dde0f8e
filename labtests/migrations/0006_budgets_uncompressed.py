"""Budgets stand as they were written: compressing them took longer than storing them."""

from __future__ import annotations

from typing import ClassVar

from django.db import migrations

AS_WRITTEN = "ALTER TABLE labtests_result ALTER COLUMN budgets SET STORAGE EXTERNAL"
UNDO = "ALTER TABLE labtests_result ALTER COLUMN budgets SET STORAGE EXTENDED"


class Migration(migrations.Migration):
    dependencies: ClassVar = [("labtests", "0005_curves_whole_beside_their_row")]

    operations: ClassVar = [migrations.RunSQL(AS_WRITTEN, UNDO)]
