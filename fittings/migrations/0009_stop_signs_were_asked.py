"""Stop signs can only be there where they were asked about."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fittings", "0008_courses_end_with_the_last_known_answer")]

    operations = [
        migrations.AddConstraint(
            model_name="fitting",
            constraint=models.CheckConstraint(
                condition=models.Q(("stop_signs_asked", True), ("stop_signs", []), _connector="OR"),
                name="fitting_stop_signs_were_asked",
                violation_error_message="Stop signs can only be there where they were asked about.",
            ),
        ),
    ]
