"""The text of an audit entry is stored uncompressed: compressing it took longer than chaining it."""

from __future__ import annotations

from typing import ClassVar

from django.db import migrations

UNCOMPRESSED = "ALTER TABLE core_auditentry ALTER COLUMN payload SET STORAGE EXTERNAL"
UNDO = "ALTER TABLE core_auditentry ALTER COLUMN payload SET STORAGE EXTENDED"


class Migration(migrations.Migration):
    dependencies: ClassVar = [("core", "0002_tokens_and_devices")]

    operations: ClassVar = [migrations.RunSQL(UNCOMPRESSED, UNDO)]
