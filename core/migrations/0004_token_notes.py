"""What an API token is for, and when it was last used."""

from __future__ import annotations

from typing import ClassVar

import django.db.models.deletion
from django.db import migrations, models

import core.models


class Migration(migrations.Migration):
    dependencies: ClassVar = [
        ("core", "0003_account_sessions"),
        migrations.swappable_dependency("knox.AuthToken"),
    ]

    operations: ClassVar = [
        migrations.CreateModel(
            name="TokenNote",
            fields=[
                (
                    "token",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="note",
                        serialize=False,
                        to="knox.authtoken",
                    ),
                ),
                ("label", models.CharField(blank=True, max_length=80, validators=[core.models.printable])),
                ("last_used_at", models.DateTimeField(null=True)),
            ],
        ),
    ]
