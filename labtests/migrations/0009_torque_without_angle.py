from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("labtests", "0008_degrees_of_freedom"),
    ]

    operations = [
        migrations.AlterField(
            model_name="checkalarm",
            name="quantity",
            field=models.CharField(
                choices=[("torque_15_nm", "torque"), ("deflection_mm", "heel deflection")], max_length=16
            ),
        ),
    ]
