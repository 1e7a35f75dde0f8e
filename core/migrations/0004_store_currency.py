"""The currency of a store; empty for the practice's own."""

from __future__ import annotations

from typing import ClassVar

import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies: ClassVar = [
        ("core", "0003_storage"),
    ]

    operations: ClassVar = [
        migrations.AddField(
            model_name="store",
            name="currency",
            field=models.CharField(
                blank=True,
                help_text="ISO 4217; empty for the practice's own.",
                max_length=3,
                validators=[
                    django.core.validators.RegexValidator(
                        "^[A-Z]{3}\\Z", "Write the currency as three capital letters, such as EUR (ISO 4217)."
                    )
                ],
            ),
        ),
    ]
