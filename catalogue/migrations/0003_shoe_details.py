"""What is stated of a shoe beside its measures, its barcodes, the addresses it had, and duplicates."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

import django.contrib.postgres.fields
import django.core.validators
import django.db.models.deletion
from django.db import migrations, models

PRINTABLE = django.core.validators.RegexValidator(
    "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
)
EU_SIZES = [
    django.core.validators.MinValueValidator(Decimal("15")),
    django.core.validators.MaxValueValidator(Decimal("55")),
]


class Migration(migrations.Migration):
    dependencies: ClassVar = [
        ("catalogue", "0002_storage"),
    ]

    operations: ClassVar = [
        migrations.CreateModel(
            name="ShoeAddress",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("slug", models.SlugField(max_length=80, unique=True)),
            ],
            options={
                "ordering": ["slug"],
            },
        ),
        migrations.CreateModel(
            name="ShoeBarcode",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "gtin",
                    models.CharField(
                        max_length=14, unique=True, validators=[django.core.validators.RegexValidator("^[0-9]{14}$")]
                    ),
                ),
                (
                    "size_eu",
                    models.DecimalField(
                        decimal_places=1,
                        max_digits=4,
                        validators=EU_SIZES,
                    ),
                ),
                (
                    "width",
                    models.CharField(
                        blank=True,
                        max_length=12,
                        validators=[PRINTABLE],
                    ),
                ),
            ],
            options={
                "ordering": ["size_eu", "width", "gtin"],
            },
        ),
        migrations.AddField(
            model_name="shoe",
            name="alternative_names",
            field=django.contrib.postgres.fields.ArrayField(
                base_field=models.CharField(
                    max_length=80,
                    validators=[PRINTABLE],
                ),
                blank=True,
                default=list,
                size=None,
            ),
        ),
        migrations.AddField(
            model_name="shoe",
            name="largest_size_eu",
            field=models.DecimalField(
                blank=True,
                decimal_places=1,
                max_digits=4,
                null=True,
                validators=EU_SIZES,
            ),
        ),
        migrations.AddField(
            model_name="shoe",
            name="list_prices",
            field=models.JSONField(blank=True, default=dict),
        ),
        migrations.AddField(
            model_name="shoe",
            name="merged_into",
            field=models.ForeignKey(
                blank=True,
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="duplicates",
                to="catalogue.shoe",
            ),
        ),
        migrations.AddField(
            model_name="shoe",
            name="note",
            field=models.TextField(blank=True, help_text="For our own staff; visitors do not see it.", max_length=2000),
        ),
        migrations.AddField(
            model_name="shoe",
            name="removable_insole",
            field=models.BooleanField(blank=True, help_text="Empty where it is not known.", null=True),
        ),
        migrations.AddField(
            model_name="shoe",
            name="season",
            field=models.CharField(
                blank=True,
                max_length=30,
                validators=[PRINTABLE],
            ),
        ),
        migrations.AddField(
            model_name="shoe",
            name="smallest_size_eu",
            field=models.DecimalField(
                blank=True,
                decimal_places=1,
                max_digits=4,
                null=True,
                validators=EU_SIZES,
            ),
        ),
        migrations.AddField(
            model_name="shoe",
            name="stated_size_eu",
            field=models.DecimalField(
                blank=True,
                decimal_places=1,
                help_text="The size that the stated mass and stack heights hold for.",
                max_digits=4,
                null=True,
                validators=EU_SIZES,
            ),
        ),
        migrations.AddField(
            model_name="shoe",
            name="wearer",
            field=models.CharField(
                choices=[("all", "men and women"), ("men", "men"), ("women", "women"), ("children", "children")],
                default="all",
                max_length=8,
            ),
        ),
        migrations.AddField(
            model_name="shoe",
            name="widths",
            field=django.contrib.postgres.fields.ArrayField(
                base_field=models.CharField(
                    max_length=12,
                    validators=[PRINTABLE],
                ),
                blank=True,
                default=list,
                size=None,
            ),
        ),
        migrations.AddIndex(
            model_name="shoe",
            index=models.Index(
                condition=models.Q(("merged_into__isnull", False)), fields=["merged_into"], name="shoe_merged_into"
            ),
        ),
        migrations.AddConstraint(
            model_name="shoe",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("smallest_size_eu__isnull", True),
                    ("largest_size_eu__isnull", True),
                    ("smallest_size_eu__lte", models.F("largest_size_eu")),
                    _connector="OR",
                ),
                name="shoe_sizes_in_order",
                violation_error_message="The smallest size must not be above the largest.",
            ),
        ),
        migrations.AddConstraint(
            model_name="shoe",
            constraint=models.CheckConstraint(
                condition=models.Q(("merged_into", models.F("id")), _negated=True),
                name="shoe_not_merged_into_itself",
                violation_error_message="A shoe can't be merged into itself.",
            ),
        ),
        migrations.AddField(
            model_name="shoeaddress",
            name="shoe",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="old_addresses", to="catalogue.shoe"
            ),
        ),
        migrations.AddField(
            model_name="shoebarcode",
            name="shoe",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="barcodes", to="catalogue.shoe"
            ),
        ),
    ]
