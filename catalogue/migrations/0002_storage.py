"""Counts of API requests in the last minutes need not survive a crash, so they are not written to the log."""

from __future__ import annotations

from typing import ClassVar

from django.db import migrations

UNLOGGED = "ALTER TABLE catalogue_apiallowance SET UNLOGGED"
UNDO = "ALTER TABLE catalogue_apiallowance SET LOGGED"


class Migration(migrations.Migration):
    dependencies: ClassVar = [("catalogue", "0001_initial")]

    operations: ClassVar = [migrations.RunSQL(UNLOGGED, UNDO)]
