from django.db import migrations, models

import fittings.models.people


def nonce(**options):
    return models.CharField(blank=True, editable=False, max_length=16, **options)


HELP = "Replaced to end the customer's links."


class Migration(migrations.Migration):
    dependencies = [("fittings", "0008_looks")]

    # Rows that exist get no nonce: the links that were sent for them go on working.
    operations = [
        migrations.AddField("customer", "link_nonce", nonce(default="")),
        migrations.AddField("fitting", "link_nonce", nonce(default="", help_text=HELP)),
        migrations.AlterField("customer", "link_nonce", nonce(default=fittings.models.people.new_nonce)),
        migrations.AlterField("fitting", "link_nonce", nonce(default=fittings.models.people.new_nonce, help_text=HELP)),
    ]
