"""What the migrations below made in all, for new databases."""

from decimal import Decimal

import django.contrib.postgres.fields
import django.contrib.postgres.indexes
import django.contrib.postgres.search
import django.core.validators
import django.db.models.deletion
import django.db.models.expressions
import django.db.models.functions.text
from django.conf import settings
from django.db import migrations, models

from core.database.new_models import created_at_once


class Migration(migrations.Migration):
    replaces = [
        ("catalogue", "0001_initial"),
        ("catalogue", "0002_storage"),
        ("catalogue", "0003_shoe_details"),
        ("catalogue", "0004_stock_movements"),
        ("catalogue", "0005_taking_back"),
        ("catalogue", "0006_photos_and_wishes"),
        ("catalogue", "0007_degrees_of_freedom"),
        ("catalogue", "0008_faults"),
        ("catalogue", "0009_score_curves"),
        ("catalogue", "0010_order_widths"),
    ]

    dependencies = [
        ("core", "0009_training_store"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Brand",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("slug", models.SlugField(unique=True)),
                (
                    "name",
                    models.CharField(
                        max_length=60,
                        unique=True,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
            },
        ),
        migrations.CreateModel(
            name="StockTransfer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "from_store",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="transfers_out", to="core.store"
                    ),
                ),
                (
                    "to_store",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="transfers_in", to="core.store"
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[("sent", "on the way"), ("received", "received"), ("called_back", "called back")],
                        default="sent",
                        max_length=12,
                    ),
                ),
                ("sent_at", models.DateTimeField()),
                (
                    "sent_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "closed_by",
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
                "ordering": ["-sent_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("from_store", models.F("to_store")), _negated=True),
                        name="transfer_between_two_stores",
                        violation_error_message="Choose another store than the one that sends.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Scale",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("version", models.CharField(max_length=20, unique=True)),
            ],
            options={
                "ordering": ["version"],
            },
        ),
        migrations.CreateModel(
            name="IncidentNotice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("reason", models.TextField()),
            ],
            options={
                "ordering": ["-at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="CatalogueRevision",
            fields=[
                ("id", models.SmallIntegerField(default=1, primary_key=True, serialize=False)),
                ("number", models.BigIntegerField(default=0)),
                ("changed_at", models.DateTimeField()),
                ("shoes_number", models.BigIntegerField(default=0)),
                ("shoes_changed_at", models.DateTimeField(null=True)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("id", 1)), name="catalogue_revision_one_row")
                ],
            },
        ),
        migrations.CreateModel(
            name="ShoesChange",
            fields=[
                ("number", models.BigIntegerField(primary_key=True, serialize=False)),
                ("changed_at", models.DateTimeField()),
                (
                    "shoes",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.BigIntegerField(), null=True, size=None
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ApiAllowance",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("address", models.CharField(max_length=45)),
                ("minute", models.BigIntegerField()),
                ("requests", models.IntegerField(default=1)),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("minute", "address"), name="api_allowance_once")],
            },
        ),
        migrations.CreateModel(
            name="StoreHolding",
            fields=[
                (
                    "store",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="holding",
                        serialize=False,
                        to="core.store",
                    ),
                ),
                ("shoes", models.IntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name="PrintRun",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "store",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="print_runs", to="core.store"
                    ),
                ),
                (
                    "paper",
                    models.CharField(
                        choices=[("a4", "A4 (210 × 297 mm)"), ("letter", "Letter (8.5 × 11 in)")],
                        default="a4",
                        max_length=6,
                    ),
                ),
                (
                    "cards_per_sheet",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (1, "1, the whole sheet"),
                            (2, "2, half a sheet each"),
                            (4, "4, a quarter each"),
                            (8, "8, an eighth each"),
                        ],
                        default=4,
                    ),
                ),
                ("printed_at", models.DateTimeField()),
                (
                    "printed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("is_withdrawn", models.BooleanField(default=False, help_text="Not printed after all, or taken down.")),
            ],
            options={
                "ordering": ["-printed_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("cards_per_sheet__in", [1, 2, 4, 8])), name="print_run_cards_per_sheet"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Shoe",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("slug", models.SlugField(max_length=80, unique=True)),
                (
                    "brand",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="shoes", to="catalogue.brand"
                    ),
                ),
                (
                    "name",
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
                    "version",
                    models.CharField(
                        blank=True,
                        max_length=20,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                (
                    "use",
                    models.CharField(
                        choices=[("running", "running"), ("walking", "walking"), ("standing", "standing work")],
                        default="running",
                        max_length=10,
                    ),
                ),
                (
                    "mass_g",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(20),
                            django.core.validators.MaxValueValidator(2000),
                        ],
                    ),
                ),
                (
                    "stack_heel_mm",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(120),
                        ],
                    ),
                ),
                (
                    "stack_forefoot_mm",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(120),
                        ],
                    ),
                ),
                (
                    "drop_mm",
                    models.GeneratedField(
                        db_persist=True,
                        expression=django.db.models.expressions.CombinedExpression(
                            models.F("stack_heel_mm"), "-", models.F("stack_forefoot_mm")
                        ),
                        output_field=models.FloatField(),
                    ),
                ),
                (
                    "previous",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="next",
                        to="catalogue.shoe",
                    ),
                ),
                ("is_discontinued", models.BooleanField(default=False)),
                (
                    "wearer",
                    models.CharField(
                        choices=[
                            ("all", "men and women"),
                            ("men", "men"),
                            ("women", "women"),
                            ("children", "children"),
                        ],
                        default="all",
                        max_length=8,
                    ),
                ),
                (
                    "widths",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.CharField(
                            max_length=12,
                            validators=[
                                django.core.validators.RegexValidator(
                                    "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                                )
                            ],
                        ),
                        blank=True,
                        default=list,
                        size=None,
                    ),
                ),
                (
                    "smallest_size_eu",
                    models.DecimalField(
                        blank=True,
                        decimal_places=1,
                        max_digits=4,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(Decimal("15")),
                            django.core.validators.MaxValueValidator(Decimal("55")),
                        ],
                    ),
                ),
                (
                    "largest_size_eu",
                    models.DecimalField(
                        blank=True,
                        decimal_places=1,
                        max_digits=4,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(Decimal("15")),
                            django.core.validators.MaxValueValidator(Decimal("55")),
                        ],
                    ),
                ),
                (
                    "stated_size_eu",
                    models.DecimalField(
                        blank=True,
                        decimal_places=1,
                        help_text="The size that the stated mass and stack heights hold for.",
                        max_digits=4,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(Decimal("15")),
                            django.core.validators.MaxValueValidator(Decimal("55")),
                        ],
                    ),
                ),
                (
                    "removable_insole",
                    models.BooleanField(blank=True, help_text="Empty where it is not known.", null=True),
                ),
                (
                    "season",
                    models.CharField(
                        blank=True,
                        max_length=30,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("list_prices", models.JSONField(blank=True, default=dict)),
                (
                    "note",
                    models.TextField(
                        blank=True, help_text="For our own staff; visitors do not see it.", max_length=2000
                    ),
                ),
                (
                    "alternative_names",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.CharField(
                            max_length=80,
                            validators=[
                                django.core.validators.RegexValidator(
                                    "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                                )
                            ],
                        ),
                        blank=True,
                        default=list,
                        size=None,
                    ),
                ),
                (
                    "merged_into",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="duplicates",
                        to="catalogue.shoe",
                    ),
                ),
            ],
            options={
                "ordering": ["brand__name", "name", "version"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("merged_into__isnull", False)),
                        fields=["merged_into"],
                        name="shoe_merged_into",
                    )
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("brand", "name", "version"),
                        name="shoe_once",
                        violation_error_message="This brand already has a shoe of this name and version.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("mass_g__isnull", True), ("mass_g__gt", 0), _connector="OR"),
                        name="shoe_mass_positive",
                        violation_error_message="The mass must be more than 0 g.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("previous", models.F("id")), _negated=True),
                        name="shoe_not_its_own_previous",
                        violation_error_message="A shoe can't be its own previous version.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("smallest_size_eu__isnull", True),
                            ("largest_size_eu__isnull", True),
                            ("smallest_size_eu__lte", models.F("largest_size_eu")),
                            _connector="OR",
                        ),
                        name="shoe_sizes_in_order",
                        violation_error_message="The smallest size must not be above the largest.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("merged_into", models.F("id")), _negated=True),
                        name="shoe_not_merged_into_itself",
                        violation_error_message="A shoe can't be merged into itself.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Band",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "scale",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="bands", to="catalogue.scale"
                    ),
                ),
                ("order", models.PositiveSmallIntegerField()),
                (
                    "name",
                    models.CharField(
                        max_length=40,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("lower", models.FloatField(blank=True, null=True)),
                ("upper", models.FloatField(blank=True, null=True)),
                ("suits", models.TextField()),
                ("runner_mass_max_kg", models.FloatField(blank=True, null=True)),
            ],
            options={
                "ordering": ["scale", "order"],
                "constraints": [
                    models.UniqueConstraint(fields=("scale", "order"), name="band_order_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("lower__isnull", True),
                            ("upper__isnull", True),
                            ("lower__lt", models.F("upper")),
                            _connector="OR",
                        ),
                        name="band_lower_below_upper",
                        violation_error_message="A band's lower limit must be below its upper limit.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ShoeBarcode",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "shoe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="barcodes", to="catalogue.shoe"
                    ),
                ),
                (
                    "gtin",
                    models.CharField(
                        max_length=14, unique=True, validators=[django.core.validators.RegexValidator("^[0-9]{14}$")]
                    ),
                ),
                (
                    "size_eu",
                    models.DecimalField(
                        decimal_places=1,
                        max_digits=4,
                        validators=[
                            django.core.validators.MinValueValidator(Decimal("15")),
                            django.core.validators.MaxValueValidator(Decimal("55")),
                        ],
                    ),
                ),
                (
                    "width",
                    models.CharField(
                        blank=True,
                        max_length=12,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
            ],
            options={
                "ordering": ["size_eu", "width", "gtin"],
            },
        ),
        migrations.CreateModel(
            name="ShoeAddress",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "shoe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="old_addresses", to="catalogue.shoe"
                    ),
                ),
                ("slug", models.SlugField(max_length=80, unique=True)),
            ],
            options={
                "ordering": ["slug"],
            },
        ),
        migrations.CreateModel(
            name="ShoeSearch",
            fields=[
                (
                    "shoe",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="search",
                        serialize=False,
                        to="catalogue.shoe",
                    ),
                ),
                ("document", django.contrib.postgres.search.SearchVectorField()),
            ],
            options={
                "indexes": [django.contrib.postgres.indexes.GinIndex(fields=["document"], name="shoe_search_document")],
            },
        ),
        migrations.CreateModel(
            name="FaultReport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "shoe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="fault_reports", to="catalogue.shoe"
                    ),
                ),
                (
                    "store",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="fault_reports", to="core.store"
                    ),
                ),
                ("size_eu", models.DecimalField(decimal_places=1, max_digits=4)),
                ("words", models.TextField(max_length=500)),
                ("weeks_worn", models.PositiveSmallIntegerField()),
                ("reported_at", models.DateTimeField()),
                (
                    "reported_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("answer", models.TextField(blank=True, max_length=500)),
                ("answered_at", models.DateTimeField(blank=True, null=True)),
                (
                    "answered_by",
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
                "ordering": ["-reported_at", "-pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("answered_at__isnull", True)),
                        fields=["reported_at"],
                        name="fault_report_open",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("answer", ""), ("answered_at__isnull", True), ("answered_by__isnull", True)),
                            models.Q(
                                ("answered_at__isnull", False),
                                ("answered_by__isnull", False),
                                models.Q(("answer", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="fault_report_answered_in_full",
                        violation_error_message="Say what was done about the fault.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="TransferLine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "transfer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="lines", to="catalogue.stocktransfer"
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.shoe"
                    ),
                ),
                (
                    "size_eu",
                    models.DecimalField(
                        decimal_places=1,
                        max_digits=4,
                        validators=[
                            django.core.validators.MinValueValidator(Decimal("15")),
                            django.core.validators.MaxValueValidator(Decimal("55")),
                        ],
                    ),
                ),
                ("width", models.CharField(blank=True, default="", max_length=12)),
                (
                    "quantity",
                    models.PositiveSmallIntegerField(validators=[django.core.validators.MinValueValidator(1)]),
                ),
                ("received", models.PositiveSmallIntegerField(blank=True, null=True)),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("transfer", "shoe", "size_eu"), name="transfer_line_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("received__isnull", True), ("received__lte", models.F("quantity")), _connector="OR"
                        ),
                        name="transfer_line_received_at_most_sent",
                        violation_error_message="No more pairs can arrive than were sent.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="StockMovement",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "store",
                    models.ForeignKey(
                        db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="core.store"
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.shoe"
                    ),
                ),
                ("size_eu", models.DecimalField(decimal_places=1, max_digits=4)),
                ("width", models.CharField(blank=True, max_length=12)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("counted", "counted"),
                            ("received", "received"),
                            ("sold", "sold"),
                            ("returned", "returned by a customer"),
                            ("written_off", "written off"),
                            ("sent", "sent to another store"),
                            ("arrived", "arrived from another store"),
                            ("called_back", "transfer called back"),
                        ],
                        max_length=12,
                    ),
                ),
                ("change", models.SmallIntegerField(help_text="Pairs added; negative for pairs taken away.")),
                ("pairs_after", models.PositiveSmallIntegerField()),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "transfer",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="movements",
                        to="catalogue.stocktransfer",
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "indexes": [models.Index(fields=["store", "-at"], name="movement_by_store_and_time")],
            },
        ),
        migrations.CreateModel(
            name="Reservation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "store",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reservations",
                        to="core.store",
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.shoe"
                    ),
                ),
                (
                    "size_eu",
                    models.DecimalField(
                        decimal_places=1,
                        max_digits=4,
                        validators=[
                            django.core.validators.MinValueValidator(Decimal("15")),
                            django.core.validators.MaxValueValidator(Decimal("55")),
                        ],
                    ),
                ),
                ("width", models.CharField(blank=True, default="", max_length=12)),
                (
                    "quantity",
                    models.PositiveSmallIntegerField(
                        default=1,
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(9),
                        ],
                    ),
                ),
                (
                    "note",
                    models.CharField(
                        blank=True,
                        max_length=40,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("until", models.DateField()),
                ("made_at", models.DateTimeField()),
                (
                    "made_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "closed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "outcome",
                    models.CharField(
                        blank=True, choices=[("collected", "collected"), ("released", "released")], max_length=10
                    ),
                ),
            ],
            options={
                "ordering": ["until", "pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("closed_at__isnull", True)),
                        fields=["store", "shoe", "size_eu"],
                        name="reservation_open_by_size",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("quantity__gte", 1)), name="reservation_of_pairs")
                ],
            },
        ),
        migrations.CreateModel(
            name="ScoreCard",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "shoe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="score_cards", to="catalogue.shoe"
                    ),
                ),
                (
                    "scale",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.scale"
                    ),
                ),
                (
                    "band",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.band"
                    ),
                ),
                ("stability", models.FloatField()),
                ("midfoot", models.FloatField()),
                ("rearfoot", models.FloatField()),
                ("cushioning", models.FloatField()),
                ("stability_u", models.FloatField(blank=True, null=True)),
                ("midfoot_u", models.FloatField(blank=True, null=True)),
                ("rearfoot_u", models.FloatField(blank=True, null=True)),
                ("cushioning_u", models.FloatField(blank=True, null=True)),
                ("stability_df", models.FloatField(blank=True, null=True)),
                ("midfoot_df", models.FloatField(blank=True, null=True)),
                ("rearfoot_df", models.FloatField(blank=True, null=True)),
                ("cushioning_df", models.FloatField(blank=True, null=True)),
                ("cushioning_estimated", models.BooleanField(default=False)),
                ("band_probability", models.FloatField(blank=True, null=True)),
                ("is_borderline", models.BooleanField(default=False)),
                (
                    "neighbour",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.band",
                    ),
                ),
                ("is_provisional", models.BooleanField(default=False)),
                ("specimens", models.PositiveSmallIntegerField()),
                ("tested_on", models.DateField()),
                ("scoring_model", models.CharField(max_length=20)),
                ("protocol", models.CharField(max_length=20)),
                ("is_current", models.BooleanField(default=True)),
                ("published_at", models.DateTimeField()),
                (
                    "published_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("reason", models.TextField()),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_because", models.TextField(blank=True, default="")),
            ],
            options={
                "ordering": ["-published_at"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("is_current", True)),
                        fields=["stability"],
                        name="score_card_current_stability",
                    ),
                    models.Index(
                        condition=models.Q(("withdrawn_at__isnull", False)),
                        fields=["shoe"],
                        name="score_card_withdrawn",
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("is_current", True)),
                        fields=("shoe",),
                        name="score_card_one_current",
                        violation_error_message="The shoe already has a current score card.",
                    ),
                    models.CheckConstraint(condition=models.Q(("specimens__gte", 1)), name="score_card_of_specimens"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("band_probability__isnull", True), ("band_probability__range", (0, 1)), _connector="OR"
                        ),
                        name="score_card_probability_range",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("withdrawn_at__isnull", True),
                            models.Q(("is_current", False), models.Q(("withdrawn_because", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="score_card_withdrawn_because",
                        violation_error_message="A withdrawn score card needs a reason and is not current.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ShoePhoto",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "shoe",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="photo", to="catalogue.shoe"
                    ),
                ),
                (
                    "digest",
                    models.CharField(
                        db_index=True,
                        max_length=32,
                        validators=[django.core.validators.RegexValidator("^[0-9a-f]{32}\\Z")],
                    ),
                ),
                (
                    "folder_key",
                    models.CharField(
                        max_length=16,
                        unique=True,
                        validators=[django.core.validators.RegexValidator("^[0-9a-f]{16}\\Z")],
                    ),
                ),
                (
                    "widths_px",
                    django.contrib.postgres.fields.ArrayField(base_field=models.PositiveIntegerField(), size=3),
                ),
                (
                    "heights_px",
                    django.contrib.postgres.fields.ArrayField(base_field=models.PositiveIntegerField(), size=3),
                ),
                (
                    "alternative_text",
                    models.CharField(
                        max_length=160,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("set_at", models.DateTimeField()),
                (
                    "set_by",
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
                "ordering": ["shoe"],
            },
        ),
        migrations.CreateModel(
            name="ScoreCurve",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "shoe",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="score_curves",
                        to="catalogue.shoe",
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[("torsion", "torsion"), ("compression", "heel compression")], max_length=12
                    ),
                ),
                ("at", django.contrib.postgres.fields.ArrayField(base_field=models.FloatField(), size=None)),
                ("mean", django.contrib.postgres.fields.ArrayField(base_field=models.FloatField(), size=None)),
                ("low", django.contrib.postgres.fields.ArrayField(base_field=models.FloatField(), size=None)),
                ("high", django.contrib.postgres.fields.ArrayField(base_field=models.FloatField(), size=None)),
                ("specimens", models.PositiveSmallIntegerField()),
                ("recordings", models.PositiveIntegerField()),
            ],
            options={
                "ordering": ["shoe", "-kind"],
                "constraints": [
                    models.UniqueConstraint(fields=("shoe", "kind"), name="score_curve_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("at__len__gte", 2),
                            ("high__len", models.F("at__len")),
                            ("low__len", models.F("at__len")),
                            ("mean__len", models.F("at__len")),
                        ),
                        name="score_curve_of_one_length",
                        violation_error_message="The series of a curve have one length, of two points at least.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("recordings__gte", models.F("specimens")), ("specimens__gte", 1)),
                        name="score_curve_of_recordings",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="StockItem",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "store",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="stock",
                        to="core.store",
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="stock",
                        to="catalogue.shoe",
                    ),
                ),
                (
                    "size_eu",
                    models.DecimalField(
                        decimal_places=1,
                        max_digits=4,
                        validators=[
                            django.core.validators.MinValueValidator(Decimal("15")),
                            django.core.validators.MaxValueValidator(Decimal("55")),
                        ],
                    ),
                ),
                ("quantity", models.PositiveSmallIntegerField()),
                ("stability", models.FloatField(editable=False, null=True)),
            ],
            options={
                "ordering": ["store", "shoe", "size_eu"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("quantity__gt", 0)),
                        fields=["store", "size_eu", "stability"],
                        include=("shoe",),
                        name="stock_by_size_and_score",
                    ),
                    models.Index(fields=["shoe", "size_eu", "store"], include=("quantity",), name="stock_by_shoe"),
                    models.Index(
                        condition=models.Q(("quantity__gt", 0)),
                        fields=["size_eu", "shoe"],
                        name="stock_item_size_there",
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("store", "size_eu", "shoe"),
                        name="stock_item_once",
                        violation_error_message="The store already has an entry for this shoe and size.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("size_eu__range", (Decimal("15"), Decimal("55")))),
                        name="stock_item_size_range",
                        violation_error_message="Sizes run from EU 15 to EU 55.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ShoeHolding",
            fields=[
                (
                    "shoe",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="holding",
                        serialize=False,
                        to="catalogue.shoe",
                    ),
                ),
                ("stores", models.IntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name="ShoeWish",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "store",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="shoe_wishes", to="core.store"
                    ),
                ),
                (
                    "brand",
                    models.CharField(
                        max_length=60,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                (
                    "name",
                    models.CharField(
                        max_length=80,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("note", models.TextField(blank=True, max_length=500)),
                (
                    "asked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("asked_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[("open", "open"), ("done", "in the catalogue"), ("declined", "declined")],
                        default="open",
                        max_length=8,
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="wishes",
                        to="catalogue.shoe",
                    ),
                ),
                (
                    "reason",
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
            ],
            options={
                "ordering": ["-asked_at", "-pk"],
                "indexes": [
                    models.Index(condition=models.Q(("state", "open")), fields=["asked_at"], name="shoe_wish_open")
                ],
                "constraints": [
                    models.UniqueConstraint(
                        models.F("store"),
                        django.db.models.functions.text.Lower("brand"),
                        django.db.models.functions.text.Lower("name"),
                        condition=models.Q(("state", "open")),
                        name="shoe_wish_open_once",
                        violation_error_message="The store already asks for this shoe.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("decided_at__isnull", True),
                                ("decided_by__isnull", True),
                                ("shoe__isnull", True),
                                ("state", "open"),
                            ),
                            models.Q(
                                ("decided_at__isnull", False),
                                ("decided_by__isnull", False),
                                ("shoe__isnull", False),
                                ("state", "done"),
                            ),
                            models.Q(
                                ("decided_at__isnull", False),
                                ("decided_by__isnull", False),
                                ("shoe__isnull", True),
                                ("state", "declined"),
                                models.Q(("reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="shoe_wish_decided_in_full",
                        violation_error_message="A wish is open, done with a shoe, or declined with a reason.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="NoticeCard",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "notice",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="cards",
                        to="catalogue.incidentnotice",
                    ),
                ),
                (
                    "score_card",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.scorecard"
                    ),
                ),
            ],
            options={
                "ordering": ["notice", "pk"],
                "constraints": [models.UniqueConstraint(fields=("notice", "score_card"), name="notice_card_once")],
            },
        ),
        migrations.CreateModel(
            name="PrintedCard",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "run",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="cards", to="catalogue.printrun"
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.shoe"
                    ),
                ),
                (
                    "score_card",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.scorecard"
                    ),
                ),
                ("position", models.PositiveSmallIntegerField()),
            ],
            options={
                "ordering": ["run", "position"],
                "constraints": [models.UniqueConstraint(fields=("run", "shoe"), name="printed_card_once_a_run")],
            },
        ),
        # Counts of API requests in the last minutes need not survive a crash, so they are not written to the log.
        migrations.RunSQL("ALTER TABLE catalogue_apiallowance SET UNLOGGED", migrations.RunSQL.noop),
    ]
    operations = created_at_once(operations)
