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
        migrations.AlterField(
            model_name="incident",
            name="effect",
            field=models.CharField(
                choices=[
                    ("doubt", "put in doubt: held until a reviewer decides on each"),
                    ("void", "void: no longer used"),
                ],
                default="doubt",
                max_length=5,
            ),
        ),
    ]
