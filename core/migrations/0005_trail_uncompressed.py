"""The trail's entries stand as they were written: compressing them took longer than chaining them."""

from __future__ import annotations

from typing import ClassVar

from django.db import migrations

AS_WRITTEN = "ALTER TABLE core_auditentry ALTER COLUMN payload SET STORAGE EXTERNAL"
UNDO = "ALTER TABLE core_auditentry ALTER COLUMN payload SET STORAGE EXTENDED"


class Migration(migrations.Migration):
    dependencies: ClassVar = [("core", "0004_token_notes")]

    operations: ClassVar = [migrations.RunSQL(AS_WRITTEN, UNDO)]
