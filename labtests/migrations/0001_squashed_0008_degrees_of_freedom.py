"""What the migrations below made in all, for new databases."""

import uuid

import django.contrib.postgres.fields
import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import labtests.models.methods
from core.database.new_models import created_at_once


class Migration(migrations.Migration):
    replaces = [
        ("labtests", "0001_initial"),
        ("labtests", "0002_storage"),
        ("labtests", "0003_specimens_received"),
        ("labtests", "0004_taking_back"),
        ("labtests", "0005_calibration_records"),
        ("labtests", "0006_guard_band"),
        ("labtests", "0007_temperature_studies"),
        ("labtests", "0008_degrees_of_freedom"),
    ]

    dependencies = [
        ("catalogue", "0001_squashed_0010_order_widths"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Protocol",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("limits", models.JSONField()),
                ("torsion_deg", models.FloatField(default=15.0)),
                ("compression_n", models.FloatField(default=444.82216152605)),
                ("repeats_wanted", models.PositiveSmallIntegerField(default=1)),
                ("calibrations", models.JSONField(default=labtests.models.methods.all_calibrations)),
                ("version", models.CharField(max_length=20, unique=True)),
                ("is_current", models.BooleanField(default=False)),
                (
                    "author",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("reason", models.TextField()),
                ("created_at", models.DateTimeField(auto_now_add=True)),
            ],
            options={
                "ordering": ["created_at", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("is_current", True)), fields=("is_current",), name="protocol_one_current"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ScoringModel",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("version", models.CharField(max_length=20, unique=True)),
                (
                    "scale",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.scale"
                    ),
                ),
                ("torque_0_nm", models.FloatField()),
                ("torque_100_nm", models.FloatField()),
                ("deflection_0_mm", models.FloatField()),
                ("deflection_100_mm", models.FloatField()),
                ("work_0_j", models.FloatField()),
                ("work_100_j", models.FloatField()),
                ("weight_midfoot", models.FloatField()),
                ("weight_rearfoot", models.FloatField()),
                (
                    "guard_band",
                    models.FloatField(default=0.0, validators=[django.core.validators.MinValueValidator(0)]),
                ),
                ("is_current", models.BooleanField(default=False)),
                (
                    "author",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("reason", models.TextField()),
                ("created_at", models.DateTimeField(auto_now_add=True)),
            ],
            options={
                "ordering": ["created_at", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("is_current", True)),
                        fields=("is_current",),
                        name="scoring_model_one_current",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("torque_0_nm", models.F("torque_100_nm")), _negated=True),
                            models.Q(("deflection_0_mm", models.F("deflection_100_mm")), _negated=True),
                            models.Q(("work_0_j", models.F("work_100_j")), _negated=True),
                        ),
                        name="scoring_model_anchors_differ",
                        violation_error_message="The anchors at 0 and 100 must differ.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Rig",
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
                ("is_stopped", models.BooleanField(default=False)),
                ("stopped_because", models.TextField(blank=True)),
                ("stopped_since", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["code"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("is_stopped", False), models.Q(("stopped_because", ""), _negated=True), _connector="OR"
                        ),
                        name="rig_stopped_because",
                        violation_error_message="A stopped rig needs a reason.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("is_stopped", True), ("stopped_since__isnull", True), _connector="OR"),
                        name="rig_stopped_since",
                        violation_error_message="Only a stopped rig has a time since which it is in doubt.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Upload",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sha256", models.CharField(max_length=64, unique=True)),
                ("name", models.CharField(max_length=200)),
                (
                    "kind",
                    models.CharField(
                        choices=[("curves", "bench file"), ("readings", "readings file"), ("zip", "ZIP of files")],
                        max_length=10,
                    ),
                ),
                ("source", models.CharField(max_length=10)),
                ("data", models.BinaryField()),
                ("size_bytes", models.PositiveIntegerField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField(db_index=True)),
                ("verdict", models.JSONField()),
            ],
            options={
                "ordering": ["-at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="StagedUpload",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("name", models.CharField(max_length=200)),
                ("data", models.BinaryField()),
                ("at", models.DateTimeField(auto_now_add=True)),
                ("batch", models.UUIDField(db_index=True, default=uuid.uuid4)),
                ("source", models.CharField(blank=True, max_length=10)),
            ],
            options={
                "ordering": ["-at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="Receipt",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "source",
                    models.CharField(
                        choices=[
                            ("shop", "bought in a shop"),
                            ("stock", "from a store of ours"),
                            ("maker", "sent by the maker"),
                            ("loan", "lent"),
                            ("own", "made by the lab"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "supplier",
                    models.CharField(
                        blank=True,
                        max_length=120,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                (
                    "batch",
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
                ("received_on", models.DateField()),
                ("price", models.DecimalField(blank=True, decimal_places=2, max_digits=9, null=True)),
                (
                    "currency",
                    models.CharField(
                        blank=True,
                        max_length=3,
                        validators=[
                            django.core.validators.RegexValidator(
                                "\\A[A-Z]{3}\\Z", "Three capital letters, such as EUR."
                            )
                        ],
                    ),
                ),
                (
                    "received_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["-received_on", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("currency", ""), ("price__isnull", True)),
                            models.Q(("price__gte", 0), models.Q(("currency", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="receipt_price_with_currency",
                        violation_error_message="A price is 0 or more and has its currency.",
                    )
                ],
            },
        ),
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
        migrations.CreateModel(
            name="ShoeScatter",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "shoe",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="catalogue.shoe"
                    ),
                ),
                ("tests_df", models.PositiveIntegerField()),
                ("tests_squares", django.contrib.postgres.fields.ArrayField(base_field=models.FloatField(), size=4)),
                ("tests_explained", django.contrib.postgres.fields.ArrayField(base_field=models.FloatField(), size=4)),
                ("specimens_df", models.PositiveIntegerField()),
                (
                    "specimens_squares",
                    django.contrib.postgres.fields.ArrayField(base_field=models.FloatField(), size=4),
                ),
                (
                    "specimens_explained",
                    django.contrib.postgres.fields.ArrayField(base_field=models.FloatField(), size=4),
                ),
            ],
            options={
                "ordering": ["shoe"],
            },
        ),
        migrations.CreateModel(
            name="VariancePool",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "level",
                    models.CharField(
                        choices=[("tests", "tests of one specimen"), ("specimens", "specimens of one shoe")],
                        max_length=10,
                        unique=True,
                    ),
                ),
                ("shoes", models.PositiveIntegerField()),
                ("df", models.PositiveIntegerField()),
                ("squares", django.contrib.postgres.fields.ArrayField(base_field=models.FloatField(), size=4)),
                ("explained", django.contrib.postgres.fields.ArrayField(base_field=models.FloatField(), size=4)),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-level"],
            },
        ),
        migrations.CreateModel(
            name="ModelDraft",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "version",
                    models.CharField(
                        max_length=20,
                        unique=True,
                        validators=[
                            django.core.validators.RegexValidator(
                                "\\A[A-Za-z0-9][A-Za-z0-9._-]{0,19}\\Z",
                                "Use letters, digits, '.', '_' or '-', a letter or digit first.",
                            )
                        ],
                    ),
                ),
                (
                    "base",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="drafts", to="labtests.scoringmodel"
                    ),
                ),
                ("torque_0_nm", models.FloatField()),
                ("torque_100_nm", models.FloatField()),
                ("deflection_0_mm", models.FloatField()),
                ("deflection_100_mm", models.FloatField()),
                ("work_0_j", models.FloatField()),
                ("work_100_j", models.FloatField()),
                ("weight_midfoot", models.FloatField()),
                ("weight_rearfoot", models.FloatField()),
                (
                    "guard_band",
                    models.FloatField(default=0.0, validators=[django.core.validators.MinValueValidator(0)]),
                ),
                ("bands", models.JSONField()),
                ("fit", models.JSONField(blank=True, null=True)),
                (
                    "state",
                    models.CharField(
                        choices=[("open", "draft"), ("adopted", "adopted"), ("discarded", "discarded")],
                        default="open",
                        max_length=10,
                    ),
                ),
                ("revision", models.PositiveIntegerField(default=1)),
                (
                    "author",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("reason", models.TextField()),
                ("created_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-created_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="ProtocolDraft",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("limits", models.JSONField()),
                ("torsion_deg", models.FloatField(default=15.0)),
                ("compression_n", models.FloatField(default=444.82216152605)),
                ("repeats_wanted", models.PositiveSmallIntegerField(default=1)),
                ("calibrations", models.JSONField(default=labtests.models.methods.all_calibrations)),
                (
                    "version",
                    models.CharField(
                        max_length=20,
                        unique=True,
                        validators=[
                            django.core.validators.RegexValidator(
                                "\\A[A-Za-z0-9][A-Za-z0-9._-]{0,19}\\Z",
                                "Use letters, digits, '.', '_' or '-', a letter or digit first.",
                            )
                        ],
                    ),
                ),
                (
                    "base",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="drafts", to="labtests.protocol"
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[("open", "draft"), ("adopted", "adopted"), ("discarded", "discarded")],
                        default="open",
                        max_length=10,
                    ),
                ),
                ("revision", models.PositiveIntegerField(default=1)),
                (
                    "author",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("reason", models.TextField()),
                ("created_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                (
                    "adopted_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("adopted_at", models.DateTimeField(blank=True, null=True)),
                ("adopted_because", models.TextField(blank=True)),
                ("withdrawn", models.JSONField(blank=True, default=list)),
            ],
            options={
                "ordering": ["-created_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "adopted"), _negated=True),
                            models.Q(
                                ("adopted_at__isnull", False),
                                ("adopted_by__isnull", False),
                                models.Q(("adopted_because", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="protocol_draft_adopted_by",
                        violation_error_message="An adopted protocol needs who adopted it and why.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Calibration",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "rig",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="calibrations", to="labtests.rig"
                    ),
                ),
                (
                    "quantity",
                    models.CharField(
                        choices=[
                            ("force", "force"),
                            ("torque", "torque"),
                            ("displacement", "displacement"),
                            ("angle", "angle"),
                            ("temperature", "temperature"),
                        ],
                        max_length=16,
                    ),
                ),
                (
                    "certificate",
                    models.CharField(
                        max_length=80,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("calibrated_on", models.DateField()),
                ("due_on", models.DateField()),
                ("standard_uncertainty", models.FloatField(validators=[django.core.validators.MinValueValidator(0)])),
                ("resolution", models.FloatField(validators=[django.core.validators.MinValueValidator(0)])),
                (
                    "laboratory",
                    models.CharField(
                        blank=True,
                        default="",
                        max_length=120,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                (
                    "reference_standard",
                    models.CharField(
                        blank=True,
                        default="",
                        max_length=200,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("range_low", models.FloatField(blank=True, null=True)),
                ("range_high", models.FloatField(blank=True, null=True)),
                ("points", models.JSONField(blank=True, default=list)),
                ("zero", models.FloatField(blank=True, null=True)),
                ("gain", models.FloatField(blank=True, null=True)),
                ("degrees_of_freedom", models.FloatField(blank=True, null=True)),
                ("file_name", models.CharField(blank=True, default="", max_length=200)),
                ("file_key", models.CharField(blank=True, default="", max_length=120)),
                ("file_type", models.CharField(blank=True, default="", max_length=40)),
                ("file_sha256", models.CharField(blank=True, default="", max_length=64)),
                (
                    "recorded_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("recorded_at", models.DateTimeField(blank=True, null=True)),
                ("needs_signature", models.BooleanField(default=False)),
                (
                    "signed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("signed_at", models.DateTimeField(blank=True, null=True)),
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
                ("struck_at", models.DateTimeField(blank=True, null=True)),
                ("struck_because", models.TextField(blank=True, default="")),
            ],
            options={
                "ordering": ["rig", "quantity", "-calibrated_on"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("struck_at__isnull", True)),
                        fields=("rig", "quantity", "calibrated_on"),
                        name="calibration_once_a_day",
                        violation_error_message="This quantity of the rig already has a calibration of that day.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("due_on__gt", models.F("calibrated_on"))),
                        name="calibration_due_after",
                        violation_error_message="A calibration is due after the day it was made.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("resolution__gte", 0), ("standard_uncertainty__gte", 0)),
                        name="calibration_not_negative",
                        violation_error_message="Uncertainty and resolution can't be negative.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("range_high__isnull", True), ("range_low__isnull", True)),
                            ("range_high__gt", models.F("range_low")),
                            _connector="OR",
                        ),
                        name="calibration_range",
                        violation_error_message="A range ends above where it begins.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("signed_at__isnull", True), ("signed_by__isnull", True)),
                            models.Q(
                                ("signed_at__isnull", False),
                                ("signed_by__isnull", False),
                                models.Q(("signed_by", models.F("recorded_by")), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="calibration_signed_by_another",
                        violation_error_message="Somebody other than the author signs a calibration.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("struck_at__isnull", True), ("struck_because", ""), ("struck_by__isnull", True)),
                            models.Q(
                                ("struck_at__isnull", False),
                                ("struck_by__isnull", False),
                                models.Q(("struck_because", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="calibration_struck_because",
                        violation_error_message="A calibration is struck by somebody, with a reason.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Specimen",
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
                            ),
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            ),
                        ],
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="specimens", to="catalogue.shoe"
                    ),
                ),
                ("size_eu", models.DecimalField(decimal_places=1, max_digits=4)),
                ("side", models.CharField(choices=[("left", "left"), ("right", "right")], max_length=5)),
                (
                    "kind",
                    models.CharField(
                        choices=[("sample", "sample of the shoe"), ("check", "check shoe")],
                        default="sample",
                        max_length=8,
                    ),
                ),
                (
                    "receipt",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="specimens",
                        to="labtests.receipt",
                    ),
                ),
                (
                    "place",
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
                ("disposed_on", models.DateField(blank=True, null=True)),
                (
                    "disposed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("disposed_because", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["code"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("disposed_because", ""), ("disposed_by__isnull", True), ("disposed_on__isnull", True)
                            ),
                            models.Q(
                                ("disposed_by__isnull", False),
                                ("disposed_on__isnull", False),
                                models.Q(("disposed_because", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="specimen_disposed_because",
                        violation_error_message="A specimen is disposed of by somebody, on a day, with a reason.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("size_eu__range", (15, 55))),
                        name="specimen_size_range",
                        violation_error_message="Sizes run from EU 15 to EU 55.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ClimateLog",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "chamber",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="climate_logs", to="labtests.chamber"
                    ),
                ),
                ("name", models.CharField(max_length=200)),
                ("content_sha256", models.CharField(max_length=64)),
                ("time_zone", models.CharField(max_length=64)),
                ("first_at", models.DateTimeField()),
                ("last_at", models.DateTimeField()),
                ("times", models.BinaryField()),
                ("temperatures_c", models.BinaryField()),
                ("humidities", models.BinaryField()),
                ("touched", models.JSONField(blank=True, default=dict)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
                ("struck_at", models.DateTimeField(blank=True, null=True)),
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
                ("struck_because", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["chamber", "-first_at", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("struck_at__isnull", True)),
                        fields=("chamber", "content_sha256"),
                        name="climate_log_once",
                        violation_error_message="These readings of the chamber are already on record.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("last_at__gte", models.F("first_at"))),
                        name="climate_log_period",
                        violation_error_message="A log ends when it begins or later.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("struck_at__isnull", True), ("struck_because", ""), ("struck_by__isnull", True)),
                            models.Q(
                                ("struck_at__isnull", False),
                                ("struck_by__isnull", False),
                                models.Q(("struck_because", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="climate_log_struck_because",
                        violation_error_message="A log is struck by somebody, with a reason.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Incident",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "rig",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="incidents", to="labtests.rig"
                    ),
                ),
                (
                    "quantity",
                    models.CharField(
                        choices=[
                            ("force", "force"),
                            ("torque", "torque"),
                            ("displacement", "displacement"),
                            ("angle", "angle"),
                            ("temperature", "temperature"),
                        ],
                        max_length=16,
                    ),
                ),
                ("begins_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                (
                    "effect",
                    models.CharField(
                        choices=[
                            ("doubt", "put in doubt: held until a reviewer decides on each"),
                            ("void", "void: not used any more"),
                        ],
                        default="doubt",
                        max_length=5,
                    ),
                ),
                ("reason", models.TextField()),
                (
                    "state",
                    models.CharField(
                        choices=[("proposed", "proposed"), ("carried_out", "carried out"), ("dismissed", "dismissed")],
                        default="proposed",
                        max_length=12,
                    ),
                ),
                (
                    "proposed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("proposed_at", models.DateTimeField()),
                (
                    "decided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("decided_at", models.DateTimeField(blank=True, null=True)),
                ("decided_because", models.TextField(blank=True)),
                ("touched", models.JSONField(blank=True, default=dict)),
            ],
            options={
                "ordering": ["-proposed_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("begins_at__lte", models.F("ends_at"))),
                        name="incident_begins_before_it_ends",
                        violation_error_message="An incident begins before it ends.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True),
                        name="incident_has_reason",
                        violation_error_message="Give a reason.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("decided_at__isnull", True), ("decided_by__isnull", True), ("state", "proposed")),
                            models.Q(
                                models.Q(("state", "proposed"), _negated=True),
                                ("decided_at__isnull", False),
                                ("decided_by__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="incident_decided_by",
                        violation_error_message="An incident that was decided on needs who did it and when.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Adoption",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "model",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="adoption", to="labtests.scoringmodel"
                    ),
                ),
                (
                    "previous",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="labtests.scoringmodel"
                    ),
                ),
                (
                    "draft",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="adoption", to="labtests.modeldraft"
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("reason", models.TextField()),
                ("at", models.DateTimeField()),
                ("tests", models.PositiveIntegerField()),
                ("tests_changed", models.PositiveIntegerField()),
                ("cards", models.PositiveIntegerField()),
                ("cards_changed", models.PositiveIntegerField()),
                ("withdrawn", models.JSONField(blank=True, default=list)),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("model", models.F("previous")), _negated=True),
                        name="adoption_of_another_model",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="BenchTest",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "specimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="tests", to="labtests.specimen"
                    ),
                ),
                (
                    "rig",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="tests", to="labtests.rig"
                    ),
                ),
                (
                    "protocol",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="labtests.protocol"
                    ),
                ),
                (
                    "operator",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "upload",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="tests", to="labtests.upload"
                    ),
                ),
                ("file_name", models.CharField(max_length=200)),
                ("file_sha256", models.CharField(max_length=64)),
                ("source", models.CharField(choices=[("curves", "curves"), ("readings", "readings")], max_length=10)),
                ("performed_at", models.DateTimeField(db_index=True)),
                ("conditioned_h", models.FloatField()),
                ("temperature_c", models.FloatField()),
                ("heel_clamp_n", models.FloatField()),
                ("forefoot_clamp_n", models.FloatField()),
                ("worn_km", models.FloatField(null=True)),
                ("mass_g", models.FloatField(null=True)),
                ("stack_heel_mm", models.FloatField(null=True)),
                ("stack_forefoot_mm", models.FloatField(null=True)),
                ("extra", models.JSONField(default=dict)),
                ("torque_15_nm", models.FloatField(null=True)),
                ("deflection_mm", models.FloatField(null=True)),
                ("work_j", models.FloatField(null=True)),
                ("work_is_estimated", models.BooleanField(default=False)),
                ("energy_return", models.FloatField(null=True)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("held", "held"),
                            ("accepted", "waiting for review"),
                            ("approved", "approved"),
                            ("void", "void"),
                        ],
                        max_length=10,
                    ),
                ),
                ("is_released", models.BooleanField(default=False)),
                ("reasons", models.JSONField(default=list)),
                (
                    "reviewed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("reviewed_at", models.DateTimeField(null=True)),
                ("review_reason", models.TextField(blank=True)),
                (
                    "amends",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="successor",
                        to="labtests.benchtest",
                    ),
                ),
            ],
            options={
                "ordering": ["-performed_at", "-pk"],
                "indexes": [models.Index(fields=["state", "-performed_at"], name="bench_test_by_state")],
                "constraints": [
                    models.UniqueConstraint(fields=("file_sha256", "specimen"), name="bench_test_file_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "held"), _negated=True),
                            models.Q(("reasons", []), _negated=True),
                            _connector="OR",
                        ),
                        name="bench_test_held_because",
                        violation_error_message="A held test needs its reasons.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "approved"), _negated=True),
                            models.Q(("reviewed_at__isnull", False), ("reviewed_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="bench_test_approved_by",
                        violation_error_message="An approved test needs its reviewer.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("is_released", False),
                            models.Q(("state__in", ["held", "accepted"]), _negated=True),
                            _connector="OR",
                        ),
                        name="bench_test_released_is_reviewed",
                        violation_error_message="A released test has been reviewed.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CheckDuty",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "rig",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="check_duties", to="labtests.rig"
                    ),
                ),
                (
                    "specimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="check_duties", to="labtests.specimen"
                    ),
                ),
                ("since", models.DateField()),
                (
                    "designated_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("designated_at", models.DateTimeField()),
                ("reason", models.TextField()),
                (
                    "retired_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("retired_at", models.DateTimeField(null=True)),
                ("retired_because", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["rig", "-designated_at", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("retired_at__isnull", True)),
                        fields=("rig",),
                        name="check_duty_one_a_rig",
                        violation_error_message="This rig has a check shoe on duty.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("retired_at__isnull", True),
                            models.Q(("retired_by__isnull", False), models.Q(("retired_because", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="check_duty_retired_because",
                        violation_error_message="A retired check shoe needs who retired it and why.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ConditioningEntry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "specimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="conditioning", to="labtests.specimen"
                    ),
                ),
                (
                    "chamber",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="entries", to="labtests.chamber"
                    ),
                ),
                ("in_at", models.DateTimeField(db_index=True)),
                ("noted_at", models.DateTimeField()),
                (
                    "put_in_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("out_at", models.DateTimeField(blank=True, null=True)),
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
                ("struck_because", models.TextField(blank=True)),
            ],
            options={
                "verbose_name": "conditioning entry",
                "ordering": ["-in_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("out_at__isnull", True), ("out_at__gt", models.F("in_at")), _connector="OR"
                        ),
                        name="conditioning_out_after_in",
                        violation_error_message="A specimen is taken out after it was put in.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("out_at__isnull", True), ("taken_out_by__isnull", True)),
                            models.Q(("out_at__isnull", False), ("taken_out_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="conditioning_out_by",
                        violation_error_message="Who took a specimen out is noted with the time.",
                    ),
                    models.CheckConstraint(
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
                    models.UniqueConstraint(
                        condition=models.Q(("out_at__isnull", True), ("struck_at__isnull", True)),
                        fields=("specimen",),
                        name="conditioning_one_open",
                        violation_error_message="This specimen is already in a chamber.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="TemperatureStudy",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "title",
                    models.CharField(
                        max_length=80,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                (
                    "rig",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="temperature_studies",
                        to="labtests.rig",
                    ),
                ),
                (
                    "specimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="temperature_studies",
                        to="labtests.specimen",
                    ),
                ),
                ("begins_on", models.DateField()),
                ("ends_on", models.DateField(blank=True, null=True)),
                ("reason", models.TextField()),
                (
                    "planned_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("planned_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("open", "testing"),
                            ("proposed", "waiting for adoption"),
                            ("adopted", "in use"),
                            ("replaced", "replaced by a later one"),
                            ("discarded", "discarded"),
                        ],
                        default="open",
                        max_length=10,
                    ),
                ),
                ("figures", models.JSONField(blank=True, default=dict)),
                (
                    "proposed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("proposed_at", models.DateTimeField(blank=True, null=True)),
                ("proposed_because", models.TextField(blank=True)),
                (
                    "decided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("decided_at", models.DateTimeField(blank=True, null=True)),
                ("decided_because", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["-planned_at", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("state", "adopted")), fields=("state",), name="temperature_study_one_in_use"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ends_on__isnull", True), ("ends_on__gte", models.F("begins_on")), _connector="OR"
                        ),
                        name="temperature_study_days",
                        violation_error_message="A study ends on or after the day it begins.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state__in", ["proposed", "adopted"]), _negated=True),
                            models.Q(
                                ("proposed_at__isnull", False),
                                ("proposed_by__isnull", False),
                                models.Q(("figures", {}), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="temperature_study_proposed_by",
                        violation_error_message="Proposed coefficients need their figures and who proposed them.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state__in", ["adopted", "replaced"]), _negated=True),
                            models.Q(
                                ("decided_by__isnull", False),
                                models.Q(("decided_by", models.F("proposed_by")), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="temperature_study_two_people",
                        violation_error_message="Coefficients are adopted by somebody else than who proposed them.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Curve",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "test",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="curves",
                        to="labtests.benchtest",
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[("torsion", "torsion"), ("compression", "heel compression")], max_length=12
                    ),
                ),
                ("repeat", models.PositiveSmallIntegerField()),
                (
                    "branch",
                    models.CharField(choices=[("loading", "loading"), ("unloading", "unloading")], max_length=10),
                ),
                ("position", models.BinaryField()),
                ("load", models.BinaryField()),
            ],
            options={
                "ordering": ["test", "-kind", "repeat", "branch"],
                "constraints": [
                    models.UniqueConstraint(fields=("test", "kind", "repeat", "branch"), name="curve_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="Reading",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "test",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="readings",
                        to="labtests.benchtest",
                    ),
                ),
                ("repeat", models.PositiveSmallIntegerField()),
                ("torque_15_nm", models.FloatField(null=True)),
                ("zero_offset_nm", models.FloatField(null=True)),
                ("deflection_mm", models.FloatField(null=True)),
                ("contact_mm", models.FloatField(null=True)),
                ("work_j", models.FloatField(null=True)),
                ("energy_return", models.FloatField(null=True)),
                ("conditions", models.JSONField(null=True)),
            ],
            options={
                "ordering": ["test", "repeat"],
                "constraints": [models.UniqueConstraint(fields=("test", "repeat"), name="reading_once")],
            },
        ),
        migrations.CreateModel(
            name="Result",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "test",
                    models.ForeignKey(
                        db_constraint=False,
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="results",
                        to="labtests.benchtest",
                    ),
                ),
                (
                    "scoring_model",
                    models.ForeignKey(
                        db_constraint=False,
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="results",
                        to="labtests.scoringmodel",
                    ),
                ),
                (
                    "adoption",
                    models.ForeignKey(
                        db_constraint=False,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="results",
                        to="labtests.adoption",
                    ),
                ),
                ("stability", models.FloatField()),
                ("midfoot", models.FloatField()),
                ("rearfoot", models.FloatField()),
                ("cushioning", models.FloatField()),
                ("cushioning_estimated", models.BooleanField(default=False)),
                ("stability_u", models.FloatField(null=True)),
                ("midfoot_u", models.FloatField(null=True)),
                ("rearfoot_u", models.FloatField(null=True)),
                ("cushioning_u", models.FloatField(null=True)),
                ("stability_u_a", models.FloatField(null=True)),
                ("midfoot_u_a", models.FloatField(null=True)),
                ("rearfoot_u_a", models.FloatField(null=True)),
                ("cushioning_u_a", models.FloatField(null=True)),
                ("stability_u_b", models.FloatField(null=True)),
                ("midfoot_u_b", models.FloatField(null=True)),
                ("rearfoot_u_b", models.FloatField(null=True)),
                ("cushioning_u_b", models.FloatField(null=True)),
                ("stability_df", models.FloatField(null=True)),
                ("midfoot_df", models.FloatField(null=True)),
                ("rearfoot_df", models.FloatField(null=True)),
                ("cushioning_df", models.FloatField(null=True)),
                ("repeats_df", models.FloatField(null=True)),
                ("setup_df", models.FloatField(null=True)),
                ("correlation_rearfoot_cushioning", models.FloatField(null=True)),
                ("budgets", models.JSONField(default=dict)),
            ],
            options={
                "ordering": ["test", "scoring_model"],
                "constraints": [models.UniqueConstraint(fields=("test", "scoring_model"), name="result_once_a_model")],
            },
        ),
        migrations.CreateModel(
            name="CheckAlarm",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "duty",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="alarms", to="labtests.checkduty"
                    ),
                ),
                (
                    "test",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="check_alarms",
                        to="labtests.benchtest",
                    ),
                ),
                (
                    "quantity",
                    models.CharField(
                        choices=[("torque_15_nm", "torque at 15°"), ("deflection_mm", "heel deflection")], max_length=16
                    ),
                ),
                ("rule", models.CharField(max_length=24)),
                ("words", models.TextField()),
                ("points", models.JSONField()),
                ("doubted_since", models.DateTimeField(null=True)),
                ("stopped_rig", models.BooleanField()),
                ("raised_at", models.DateTimeField()),
                (
                    "cleared_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("cleared_at", models.DateTimeField(null=True)),
                ("cleared_because", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["-raised_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("cleared_at__isnull", True),
                            models.Q(("cleared_by__isnull", False), models.Q(("cleared_because", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="check_alarm_cleared_because",
                        violation_error_message="A cleared alarm needs who cleared it and why.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="LoggedConditioning",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "test",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="logged_conditioning",
                        to="labtests.benchtest",
                    ),
                ),
                (
                    "entry",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="counted_for",
                        to="labtests.conditioningentry",
                    ),
                ),
                ("since", models.DateTimeField()),
                ("out_h", models.FloatField()),
                ("claimed_h", models.FloatField()),
            ],
            options={
                "verbose_name": "logged conditioning",
            },
        ),
        migrations.CreateModel(
            name="GaugeStudy",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "title",
                    models.CharField(
                        max_length=80,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                (
                    "rig",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="gauge_studies", to="labtests.rig"
                    ),
                ),
                ("trials", models.PositiveSmallIntegerField()),
                ("begins_on", models.DateField()),
                ("ends_on", models.DateField(null=True)),
                ("reason", models.TextField()),
                (
                    "planned_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("planned_at", models.DateTimeField()),
                (
                    "closed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("closed_at", models.DateTimeField(null=True)),
                ("closed_because", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["-planned_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("trials__range", (2, 20))),
                        name="gauge_study_trials",
                        violation_error_message="Each operator tests each specimen 2 to 20 times.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ends_on__isnull", True), ("ends_on__gte", models.F("begins_on")), _connector="OR"
                        ),
                        name="gauge_study_days",
                        violation_error_message="A study ends on or after the day it begins.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("closed_at__isnull", True),
                            models.Q(("closed_by__isnull", False), models.Q(("closed_because", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="gauge_study_closed_because",
                        violation_error_message="A closed study needs who closed it and why.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="GaugeStudyPart",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "study",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="parts", to="labtests.gaugestudy"
                    ),
                ),
                (
                    "specimen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="labtests.specimen"
                    ),
                ),
            ],
            options={
                "ordering": ["study", "specimen__code"],
                "constraints": [models.UniqueConstraint(fields=("study", "specimen"), name="gauge_study_part_once")],
            },
        ),
        migrations.CreateModel(
            name="GaugeStudyOperator",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "study",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="people", to="labtests.gaugestudy"
                    ),
                ),
                (
                    "operator",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["study", "operator__username"],
                "constraints": [
                    models.UniqueConstraint(fields=("study", "operator"), name="gauge_study_operator_once")
                ],
            },
        ),
        migrations.AddField(
            model_name="gaugestudy",
            name="operators",
            field=models.ManyToManyField(
                related_name="+", through="labtests.GaugeStudyOperator", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="gaugestudy",
            name="specimens",
            field=models.ManyToManyField(
                related_name="gauge_studies", through="labtests.GaugeStudyPart", to="labtests.specimen"
            ),
        ),
        # As in 0002: compressing took longer than storing.
        migrations.RunSQL(
            """
            ALTER TABLE labtests_curve SET (toast_tuple_target = 8160);
            ALTER TABLE labtests_curve ALTER COLUMN position SET STORAGE EXTERNAL;
            ALTER TABLE labtests_curve ALTER COLUMN load SET STORAGE EXTERNAL;
            ALTER TABLE labtests_upload ALTER COLUMN data SET STORAGE EXTERNAL;
            ALTER TABLE labtests_result ALTER COLUMN budgets SET STORAGE EXTERNAL;
            """,
            migrations.RunSQL.noop,
        ),
    ]
    operations = created_at_once(operations)
