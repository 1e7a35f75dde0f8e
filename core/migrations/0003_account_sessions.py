"""A temporary password is marked as one, and every session of an account can be ended at once."""

from __future__ import annotations

from typing import ClassVar

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies: ClassVar = [("core", "0002_audit_chain")]

    operations: ClassVar = [
        migrations.AddField(
            model_name="user",
            name="must_change_password",
            field=models.BooleanField(
                default=False, help_text="The password is a temporary one, also known to whoever made it."
            ),
        ),
        migrations.AddField(
            model_name="user",
            name="session_epoch",
            field=models.PositiveIntegerField(
                default=0, help_text="Counted up to end every session that began before."
            ),
        ),
    ]
