"""Whether pain and the stop signs were answered is recorded, and no longer read off empty answers."""

from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("catalogue", "0008_changes_and_holdings"),
        ("core", "0006_second_factor_sealed"),
        ("fittings", "0006_courses"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="fitting",
            name="fitting_nothing_kept_without_consent",
        ),
        migrations.RemoveConstraint(
            model_name="followup",
            name="follow_up_nothing_before_answer",
        ),
        migrations.AddField(
            model_name="fitting",
            name="stop_signs_asked",
            field=models.BooleanField(
                db_default=False,
                default=False,
                help_text="Whether the stop signs were asked about; none may be the answer.",
            ),
        ),
        migrations.AddField(
            model_name="followup",
            name="nothing_hurts",
            field=models.BooleanField(
                blank=True,
                help_text="True: nothing hurts. False: something does. Null: pain was not answered.",
                null=True,
            ),
        ),
        migrations.AlterField(
            model_name="followup",
            name="free_of_complaints",
            field=models.BooleanField(
                blank=True,
                help_text="Free of every complaint recorded at the fitting; null where the answers do not say.",
                null=True,
            ),
        ),
        migrations.AddConstraint(
            model_name="fitting",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("customer__isnull", False),
                        ("kept", True),
                        ("need_centre__isnull", False),
                        ("need_high__isnull", False),
                        ("need_low__isnull", False),
                        ("rules__isnull", False),
                        models.Q(("use", ""), _negated=True),
                    ),
                    models.Q(
                        ("body_mass_kg__isnull", True),
                        ("current_shoe__isnull", True),
                        ("cushioning_wish", ""),
                        ("customer__isnull", True),
                        ("distance_km_week__isnull", True),
                        ("hip_weak__isnull", True),
                        ("kept", False),
                        ("need_centre__isnull", True),
                        ("need_contributions", []),
                        ("need_high__isnull", True),
                        ("need_left_out", []),
                        ("need_low__isnull", True),
                        ("pain_now__isnull", True),
                        ("rules__isnull", True),
                        ("size_eu__isnull", True),
                        ("stop_signs", []),
                        ("stop_signs_asked", False),
                        ("use", ""),
                    ),
                    _connector="OR",
                ),
                name="fitting_nothing_kept_without_consent",
                violation_error_message="Without consent nothing of the person may be kept.",
            ),
        ),
        migrations.AddConstraint(
            model_name="followup",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("answered_at__isnull", False),
                    models.Q(
                        ("answered_by__isnull", True),
                        ("comfort__isnull", True),
                        ("days_off__isnull", True),
                        ("distance_km_week__isnull", True),
                        ("free_of_complaints__isnull", True),
                        ("nothing_hurts__isnull", True),
                        ("overuse__isnull", True),
                        ("overuse_total__isnull", True),
                        ("recurrence", ""),
                        ("wearing__isnull", True),
                    ),
                    _connector="OR",
                ),
                name="follow_up_nothing_before_answer",
                violation_error_message="A follow-up that was not answered holds no answers.",
            ),
        ),
    ]
