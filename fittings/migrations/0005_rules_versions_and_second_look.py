"""Versions of the rules with who made and adopted them, and what a second fitter saw."""

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fittings", "0004_count_letters_sent"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="SecondObservation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("foot", models.CharField(choices=[("left", "left"), ("right", "right")], max_length=5)),
                (
                    "pronation",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(3),
                        ],
                    ),
                ),
                (
                    "tibial_rotation",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(3),
                        ],
                    ),
                ),
                (
                    "rearfoot_eversion",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(3),
                        ],
                    ),
                ),
                (
                    "fpi6",
                    models.SmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-12),
                            django.core.validators.MaxValueValidator(12),
                        ],
                    ),
                ),
            ],
            options={
                "ordering": ["fitting", "foot"],
            },
        ),
        migrations.AddField(
            model_name="needrules",
            name="adopted_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="needrules",
            name="adopted_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="needrules",
            name="created_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="needrules",
            name="match",
            field=models.JSONField(blank=True, default=dict, help_text="What `match_from_data` reads; empty is `M1`."),
        ),
        migrations.AlterField(
            model_name="needrules",
            name="reason",
            field=models.TextField(max_length=500),
        ),
        # What was kept so far was in use from the day that it was made.
        migrations.RunSQL("UPDATE fittings_needrules SET adopted_at = created_at", migrations.RunSQL.noop),
        migrations.AddConstraint(
            model_name="needrules",
            constraint=models.CheckConstraint(
                condition=models.Q(("is_current", False), ("adopted_at__isnull", False), _connector="OR"),
                name="need_rules_current_was_adopted",
                violation_error_message="Rules are used only after they were adopted.",
            ),
        ),
        migrations.AddField(
            model_name="secondobservation",
            name="fitter",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="secondobservation",
            name="fitting",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="second_feet", to="fittings.fitting"
            ),
        ),
        migrations.AddConstraint(
            model_name="secondobservation",
            constraint=models.UniqueConstraint(
                fields=("fitting", "foot"),
                name="second_observation_once",
                violation_error_message="This foot was looked at a second time already.",
            ),
        ),
    ]
