"""The conditioning log; files looked at together before they are stored."""

import uuid

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("labtests", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Chamber",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "code",
                    models.CharField(
                        max_length=64,
                        unique=True,
                        validators=[
                            django.core.validators.RegexValidator(
                                "\\A[A-Za-z0-9][A-Za-z0-9._-]{0,63}\\Z",
                                "Use letters, digits, '.', '_' or '-', a letter or digit first.",
                            )
                        ],
                    ),
                ),
                (
                    "name",
                    models.CharField(
                        blank=True,
                        max_length=80,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
            },
        ),
        migrations.AlterModelOptions(
            name="stagedupload",
            options={"ordering": ["-at", "-pk"]},
        ),
        migrations.AddField(
            model_name="stagedupload",
            name="batch",
            field=models.UUIDField(db_index=True, default=uuid.uuid4),
        ),
        migrations.AddField(
            model_name="stagedupload",
            name="source",
            field=models.CharField(blank=True, max_length=10),
        ),
        migrations.CreateModel(
            name="ConditioningEntry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("in_at", models.DateTimeField(db_index=True)),
                ("noted_at", models.DateTimeField()),
                ("out_at", models.DateTimeField(blank=True, null=True)),
                (
                    "note",
                    models.CharField(
                        blank=True,
                        max_length=300,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("struck_at", models.DateTimeField(blank=True, null=True)),
                ("struck_because", models.TextField(blank=True)),
                (
                    "chamber",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="entries", to="labtests.chamber"
                    ),
                ),
                (
                    "put_in_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "specimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="conditioning", to="labtests.specimen"
                    ),
                ),
                (
                    "struck_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "taken_out_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "conditioning entry",
                "ordering": ["-in_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="LoggedConditioning",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("since", models.DateTimeField()),
                ("out_h", models.FloatField()),
                ("claimed_h", models.FloatField()),
                (
                    "entry",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="counted_for",
                        to="labtests.conditioningentry",
                    ),
                ),
                (
                    "test",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="logged_conditioning",
                        to="labtests.benchtest",
                    ),
                ),
            ],
            options={
                "verbose_name": "logged conditioning",
            },
        ),
        migrations.AddConstraint(
            model_name="conditioningentry",
            constraint=models.CheckConstraint(
                condition=models.Q(("out_at__isnull", True), ("out_at__gt", models.F("in_at")), _connector="OR"),
                name="conditioning_out_after_in",
                violation_error_message="A specimen is taken out after it was put in.",
            ),
        ),
        migrations.AddConstraint(
            model_name="conditioningentry",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("out_at__isnull", True), ("taken_out_by__isnull", True)),
                    models.Q(("out_at__isnull", False), ("taken_out_by__isnull", False)),
                    _connector="OR",
                ),
                name="conditioning_out_by",
                violation_error_message="Who took a specimen out is noted with the time.",
            ),
        ),
        migrations.AddConstraint(
            model_name="conditioningentry",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("struck_at__isnull", True), ("struck_because", ""), ("struck_by__isnull", True)),
                    models.Q(
                        ("struck_at__isnull", False),
                        ("struck_by__isnull", False),
                        models.Q(("struck_because", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="conditioning_struck_because",
                violation_error_message="An entry is struck by somebody, with a reason.",
            ),
        ),
        migrations.AddConstraint(
            model_name="conditioningentry",
            constraint=models.UniqueConstraint(
                condition=models.Q(("out_at__isnull", True), ("struck_at__isnull", True)),
                fields=("specimen",),
                name="conditioning_one_open",
                violation_error_message="This specimen already lies in a chamber.",
            ),
        ),
    ]
