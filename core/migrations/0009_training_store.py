"""Stores for training: their people are invented and count nowhere."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("core", "0008_digest_salts")]

    operations = [
        migrations.AddField(
            model_name="store",
            name="is_training",
            field=models.BooleanField(
                db_default=False,
                default=False,
                help_text="Its people are invented and count nowhere; it holds no stock.",
            ),
        ),
        migrations.AddConstraint(
            model_name="store",
            constraint=models.CheckConstraint(
                condition=models.Q(("is_training", False), ("name__endswith", " (training)"), _connector="OR"),
                name="store_for_training_is_named_so",
                violation_error_message="The name of a training store ends with “(training)”.",
            ),
        ),
    ]
