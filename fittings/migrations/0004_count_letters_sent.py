"""Follow-ups that a letter went out for before letters were counted."""

from django.db import migrations


def count(apps, schema_editor):
    follow_ups = apps.get_model("fittings", "FollowUp").objects
    follow_ups.filter(sent_at__isnull=False, reminders=0).update(reminders=1)


class Migration(migrations.Migration):
    dependencies = [("fittings", "0003_drafts_degrees_contacts")]

    operations = [migrations.RunPython(count, migrations.RunPython.noop)]
