"""What hangs on tables of django-rest-knox and django-otp, which in turn need our user first."""

from __future__ import annotations

from typing import ClassVar

import django.db.models.deletion
from django.db import migrations, models

import core.models


class Migration(migrations.Migration):
    dependencies: ClassVar = [
        ("core", "0001_initial"),
        migrations.swappable_dependency("knox.AuthToken"),
        ("otp_totp", "0003_add_timestamps"),
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
        migrations.CreateModel(
            name="SealedDevice",
            fields=[],
            options={"proxy": True, "indexes": [], "constraints": []},
            bases=("otp_totp.totpdevice",),
        ),
    ]
