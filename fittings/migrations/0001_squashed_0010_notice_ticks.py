"""What the migrations below made in all, for new databases."""

import django.contrib.postgres.fields
import django.core.validators
import django.db.models.deletion
import django.db.models.expressions
import django.db.models.functions.text
from django.conf import settings
from django.db import migrations, models

import fittings.models.people
from core.database.new_models import created_at_once


class Migration(migrations.Migration):
    replaces = [
        ("fittings", "0001_initial"),
        ("fittings", "0002_courses_of_people"),
        ("fittings", "0003_hiding_and_statistics"),
        ("fittings", "0004_safety"),
        ("fittings", "0005_requests_and_evidence"),
        ("fittings", "0006_corrections"),
        ("fittings", "0007_shoes_and_sizes"),
        ("fittings", "0008_looks"),
        ("fittings", "0009_link_nonces"),
        ("fittings", "0010_notice_ticks"),
    ]

    dependencies = [
        ("catalogue", "0001_squashed_0010_order_widths"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="GradeCutoffs",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "name",
                    models.CharField(
                        max_length=20,
                        unique=True,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("data", models.JSONField(help_text="What `fittings.domain.fitting.grading` reads.")),
                ("source", models.CharField(help_text="Where the cut-offs come from.", max_length=200)),
                ("is_current", models.BooleanField(default=False)),
                ("created_at", models.DateTimeField()),
            ],
            options={
                "verbose_name_plural": "grade cut-offs",
                "ordering": ["-created_at"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("is_current", True)),
                        fields=("is_current",),
                        name="grade_cutoffs_one_current",
                        violation_error_message="One set of cut-offs is current already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Customer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "store",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="customers", to="core.store"
                    ),
                ),
                (
                    "name",
                    models.CharField(
                        max_length=120,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("email", models.EmailField(blank=True, max_length=254)),
                (
                    "phone",
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
                ("mail_stopped_at", models.DateTimeField(blank=True, null=True)),
                ("mail_failed_at", models.DateTimeField(blank=True, null=True)),
                ("created_at", models.DateTimeField()),
                (
                    "link_nonce",
                    models.CharField(
                        blank=True, default=fittings.models.people.new_nonce, editable=False, max_length=16
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "indexes": [
                    models.Index(
                        models.F("store"), django.db.models.functions.text.Lower("email"), name="customer_by_email"
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("name", ""), _negated=True),
                        name="customer_has_name",
                        violation_error_message="A customer who is kept needs a name.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ReferralRules",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "version",
                    models.CharField(
                        max_length=20,
                        unique=True,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("data", models.JSONField(help_text="What `fittings.domain.fitting.referral_rules` reads.")),
                ("reason", models.TextField(max_length=500)),
                ("is_current", models.BooleanField(default=False)),
                ("created_at", models.DateTimeField()),
                (
                    "created_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("adopted_at", models.DateTimeField(blank=True, null=True)),
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
            ],
            options={
                "verbose_name_plural": "referral rules",
                "ordering": ["-created_at"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("is_current", True)),
                        fields=("is_current",),
                        name="referral_rules_one_current",
                        violation_error_message="One version of the referral rules is in use already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("is_current", False), ("adopted_at__isnull", False), _connector="OR"),
                        name="referral_rules_current_was_adopted",
                        violation_error_message="Referral rules are used only after they were adopted.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("created_by__isnull", True),
                            ("adopted_by__isnull", True),
                            models.Q(("created_by", models.F("adopted_by")), _negated=True),
                            _connector="OR",
                        ),
                        name="referral_rules_two_people",
                        violation_error_message="Somebody other than the author adopts referral rules.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="NeedRules",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "version",
                    models.CharField(
                        max_length=20,
                        unique=True,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("data", models.JSONField(help_text="What `fittings.domain.fitting.rules_data` reads.")),
                (
                    "match",
                    models.JSONField(
                        blank=True, default=dict, help_text="What `match_from_data` reads; empty is `M1`."
                    ),
                ),
                ("reason", models.TextField(max_length=500)),
                ("is_current", models.BooleanField(default=False)),
                ("created_at", models.DateTimeField()),
                (
                    "created_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("adopted_at", models.DateTimeField(blank=True, null=True)),
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
            ],
            options={
                "verbose_name_plural": "need rules",
                "ordering": ["-created_at"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("is_current", True)),
                        fields=("is_current",),
                        name="need_rules_one_current",
                        violation_error_message="One version of the rules is current already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("is_current", False), ("adopted_at__isnull", False), _connector="OR"),
                        name="need_rules_current_was_adopted",
                        violation_error_message="Rules are used only after they were adopted.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="EvidenceRelease",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("figures", models.JSONField()),
                ("until", models.DateField(help_text="The first day of choices that are not in it.")),
                (
                    "reason",
                    models.CharField(
                        max_length=300,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("proposed", "proposed"),
                            ("published", "published"),
                            ("replaced", "replaced by a later one"),
                            ("withdrawn", "withdrawn"),
                        ],
                        default="proposed",
                        max_length=9,
                    ),
                ),
                ("proposed_at", models.DateTimeField()),
                (
                    "proposed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("confirmed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "confirmed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "ended_by",
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
                "ordering": ["-proposed_at", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("state__in", ["proposed", "published"])),
                        fields=("state",),
                        name="evidence_release_one_a_state",
                        violation_error_message="There is one already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("confirmed_by__isnull", True),
                            models.Q(("confirmed_by", models.F("proposed_by")), _negated=True),
                            _connector="OR",
                        ),
                        name="evidence_release_two_people",
                        violation_error_message="Somebody other than the person who proposed it confirms it.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("confirmed_by__isnull", True), ("ended_at__isnull", True), ("state", "proposed")),
                            models.Q(
                                ("confirmed_at__isnull", False),
                                ("confirmed_by__isnull", False),
                                ("ended_at__isnull", True),
                                ("state", "published"),
                            ),
                            models.Q(
                                ("confirmed_by__isnull", False), ("ended_at__isnull", False), ("state", "replaced")
                            ),
                            models.Q(("ended_at__isnull", False), ("ended_by__isnull", False), ("state", "withdrawn")),
                            _connector="OR",
                        ),
                        name="evidence_release_state_in_full",
                        violation_error_message="Each state of a release needs who and when.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="RemovedCount",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "store",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="core.store"),
                ),
                ("year", models.PositiveSmallIntegerField()),
                ("in_target", models.BooleanField()),
                ("recurred", models.BooleanField()),
                ("people", models.PositiveIntegerField()),
            ],
            options={
                "ordering": ["store", "year", "in_target", "recurred"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("store", "year", "in_target", "recurred"), name="removed_count_once"
                    ),
                    models.CheckConstraint(condition=models.Q(("people__gte", 1)), name="removed_count_positive"),
                ],
            },
        ),
        migrations.CreateModel(
            name="FittingRequest",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "store",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="fitting_requests", to="core.store"
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
                (
                    "reach",
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
                ("wish_day", models.DateField()),
                ("consent_version", models.CharField(max_length=20)),
                ("asked_at", models.DateTimeField()),
                ("asked_from", models.CharField(blank=True, max_length=16)),
                (
                    "state",
                    models.CharField(
                        choices=[("open", "open"), ("done", "arranged"), ("closed", "closed"), ("expired", "expired")],
                        default="open",
                        max_length=8,
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
                "ordering": ["wish_day", "pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("state", "open")), fields=["store", "wish_day"], name="fitting_request_open"
                    ),
                    models.Index(
                        condition=models.Q(("asked_from", ""), _negated=True),
                        fields=["asked_from"],
                        name="fitting_request_from",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("closed_at__isnull", True),
                                ("state", "open"),
                                models.Q(("name", ""), _negated=True),
                                models.Q(("reach", ""), _negated=True),
                            ),
                            models.Q(
                                models.Q(("state", "open"), _negated=True),
                                ("closed_at__isnull", False),
                                ("name", ""),
                                ("reach", ""),
                            ),
                            _connector="OR",
                        ),
                        name="fitting_request_emptied_when_closed",
                        violation_error_message="An open request has a name and a way to reach; a closed one neither.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="StatisticsExport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("made_at", models.DateTimeField()),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "reason",
                    models.CharField(
                        max_length=500,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("until", models.DateField(help_text="The first day of choices that are not in it.")),
                ("people", models.PositiveIntegerField()),
                (
                    "suppressed",
                    models.PositiveIntegerField(help_text="People left out because too few others are like them."),
                ),
                ("sha256", models.CharField(help_text="Of the rows as CSV.", max_length=64)),
            ],
            options={
                "ordering": ["-made_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True),
                        name="statistics_export_has_reason",
                        violation_error_message="An export needs a reason.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="TrialShown",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "rules_hash",
                    models.CharField(help_text="Of what the rules say, whatever the version is called.", max_length=64),
                ),
                ("until", models.DateField(help_text="The first day of fittings that were not tried.")),
                ("results", django.contrib.postgres.fields.ArrayField(base_field=models.BigIntegerField(), size=None)),
                ("shown_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [models.UniqueConstraint(fields=("rules_hash", "until"), name="trial_shown_once")],
            },
        ),
        migrations.CreateModel(
            name="CaseResult",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="case_results",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("seed", models.BigIntegerField(help_text="From which the set was drawn.")),
                (
                    "cutoffs",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="fittings.gradecutoffs"
                    ),
                ),
                ("answers", models.JSONField(help_text="A grade 0 to 3 for each case.")),
                ("cases", models.PositiveSmallIntegerField()),
                ("right", models.PositiveSmallIntegerField()),
                ("near", models.PositiveSmallIntegerField(help_text="Off by one grade.")),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("person", "seed"),
                        name="case_result_once",
                        violation_error_message="This set was answered already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "right__lte",
                                django.db.models.expressions.CombinedExpression(
                                    models.F("cases"), "-", models.F("near")
                                ),
                            )
                        ),
                        name="case_result_adds_up",
                        violation_error_message="There are more answers than cases.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Consent",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "customer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="consents", to="fittings.customer"
                    ),
                ),
                ("text_version", models.CharField(max_length=20)),
                (
                    "guardian",
                    models.CharField(
                        blank=True,
                        db_default="",
                        default="",
                        help_text="Who agreed for somebody too young to agree alone.",
                        max_length=120,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("given_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-given_at"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("customer", "text_version"),
                        name="consent_once_a_wording",
                        violation_error_message="The customer has agreed to this wording already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Draft",
            fields=[
                ("key", models.UUIDField(editable=False, primary_key=True, serialize=False)),
                (
                    "store",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="drafts", to="core.store"
                    ),
                ),
                (
                    "customer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="drafts", to="fittings.customer"
                    ),
                ),
                (
                    "made_customer",
                    models.BooleanField(help_text="The customer was made here, and goes with a discarded draft."),
                ),
                (
                    "started_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("started_at", models.DateTimeField()),
                (
                    "saved_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("saved_at", models.DateTimeField()),
            ],
            options={
                "verbose_name": "unfinished fitting",
                "ordering": ["-saved_at"],
            },
        ),
        migrations.CreateModel(
            name="DraftSection",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "draft",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="sections", to="fittings.draft"
                    ),
                ),
                (
                    "name",
                    models.CharField(
                        choices=[
                            ("person", "customer and consent"),
                            ("intake", "intake"),
                            ("stop_signs", "stop signs"),
                            ("observation", "observation"),
                            ("feet", "feet"),
                            ("try_ons", "try-ons"),
                            ("looks", "looks in motion"),
                            ("choice", "choice"),
                            ("second_look", "second look"),
                        ],
                        max_length=20,
                    ),
                ),
                ("content", models.JSONField(blank=True, default=dict)),
                ("version", models.PositiveIntegerField(default=1)),
                ("page", models.UUIDField(blank=True, null=True)),
                ("edit", models.PositiveIntegerField(default=0)),
                (
                    "saved_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("saved_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("draft", "name"),
                        name="draft_section_once",
                        violation_error_message="This section is there already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Fitting",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "store",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="fittings", to="core.store"
                    ),
                ),
                (
                    "fitter",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="fittings",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("kept", models.BooleanField()),
                (
                    "submission",
                    models.UUIDField(blank=True, help_text="Given by the form; twice is once.", null=True, unique=True),
                ),
                (
                    "customer",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="fittings",
                        to="fittings.customer",
                    ),
                ),
                (
                    "use",
                    models.CharField(
                        blank=True,
                        choices=[("running", "running"), ("walking", "walking"), ("standing", "standing work")],
                        max_length=10,
                    ),
                ),
                (
                    "body_mass_kg",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(10.0),
                            django.core.validators.MaxValueValidator(400.0),
                        ],
                    ),
                ),
                (
                    "distance_km_week",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0.0),
                            django.core.validators.MaxValueValidator(1000.0),
                        ],
                    ),
                ),
                (
                    "pain_now",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(10),
                        ],
                    ),
                ),
                (
                    "stop_signs",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.CharField(max_length=30), blank=True, default=list, size=None
                    ),
                ),
                (
                    "stop_signs_asked",
                    models.BooleanField(
                        db_default=False,
                        default=False,
                        help_text="Whether the stop signs were asked about; none may be the answer.",
                    ),
                ),
                (
                    "pain_weeks",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(1040),
                        ],
                    ),
                ),
                (
                    "clinician_advised",
                    models.BooleanField(
                        blank=True,
                        help_text="Whether a customer with a stop sign was advised to see a clinician.",
                        null=True,
                    ),
                ),
                (
                    "referral_rules",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fittings.referralrules",
                    ),
                ),
                (
                    "referral_advice",
                    models.JSONField(
                        blank=True,
                        help_text="The sentences of the referral then; null in fittings older than the rules.",
                        null=True,
                    ),
                ),
                ("hip_weak", models.BooleanField(blank=True, null=True)),
                (
                    "current_shoe",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.shoe",
                    ),
                ),
                (
                    "current_shoe_text",
                    models.CharField(
                        blank=True,
                        db_default="",
                        default="",
                        help_text="The shoe worn now as it was said, where it is not in the catalogue.",
                        max_length=160,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                (
                    "insole",
                    models.CharField(
                        blank=True,
                        choices=[("none", "nothing"), ("insole", "insole"), ("orthosis", "orthosis by a clinician")],
                        db_default="",
                        default="",
                        help_text="What is worn in the shoe; empty where it was not asked.",
                        max_length=8,
                    ),
                ),
                (
                    "size_system",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("eu", "EU"),
                            ("uk", "UK"),
                            ("us-men", "US men"),
                            ("us-women", "US women"),
                            ("mm", "mm"),
                        ],
                        db_default="",
                        default="",
                        help_text="In which system the customer says sizes; empty for the store's.",
                        max_length=8,
                    ),
                ),
                (
                    "cushioning_wish",
                    models.CharField(
                        blank=True, choices=[("", "no wish"), ("more", "softer"), ("less", "firmer")], max_length=4
                    ),
                ),
                ("size_eu", models.DecimalField(blank=True, decimal_places=1, max_digits=4, null=True)),
                (
                    "link_nonce",
                    models.CharField(
                        blank=True,
                        default=fittings.models.people.new_nonce,
                        editable=False,
                        help_text="Replaced to end the customer's links.",
                        max_length=16,
                    ),
                ),
                (
                    "rules",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fittings.needrules",
                    ),
                ),
                ("need_centre", models.FloatField(blank=True, null=True)),
                ("need_low", models.FloatField(blank=True, null=True)),
                ("need_high", models.FloatField(blank=True, null=True)),
                ("need_contributions", models.JSONField(blank=True, default=list)),
                (
                    "need_left_out",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.CharField(max_length=40), blank=True, default=list, size=None
                    ),
                ),
                (
                    "advised",
                    models.JSONField(
                        blank=True,
                        help_text="The shoes shown then, best first, with their scores of then; null: not noted.",
                        null=True,
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "indexes": [models.Index(fields=["store", "-at"], name="fitting_by_store_and_day")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("kept", True),
                            models.Q(("current_shoe_text", ""), ("insole", ""), ("size_system", "")),
                            _connector="OR",
                        ),
                        name="fitting_shoes_and_sizes_with_consent_only",
                        violation_error_message="Without consent nothing of the person may be kept.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("current_shoe__isnull", True), ("current_shoe_text", ""), _connector="OR"),
                        name="fitting_worn_now_named_once",
                        violation_error_message="The shoe worn now is one of the catalogue or a text, not both.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("need_low__isnull", True),
                            models.Q(
                                ("need_centre__lte", models.F("need_high")), ("need_low__lte", models.F("need_centre"))
                            ),
                            _connector="OR",
                        ),
                        name="fitting_need_in_order",
                        violation_error_message="The need's centre must lie within it.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("stop_signs_asked", True), ("stop_signs", []), _connector="OR"),
                        name="fitting_stop_signs_were_asked",
                        violation_error_message="Stop signs can only be there where they were asked about.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("kept", True),
                            models.Q(
                                ("clinician_advised__isnull", True),
                                ("pain_weeks__isnull", True),
                                ("referral_advice__isnull", True),
                                ("referral_rules__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="fitting_no_referral_kept_without_consent",
                        violation_error_message="Without consent nothing of the person may be kept.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("pain_weeks__isnull", True), ("pain_weeks__range", (0, 1040)), _connector="OR"
                        ),
                        name="fitting_pain_weeks_range",
                        violation_error_message="pain_weeks must be from 0 to 1040.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("body_mass_kg__isnull", True), ("body_mass_kg__range", (10.0, 400.0)), _connector="OR"
                        ),
                        name="fitting_body_mass_kg_range",
                        violation_error_message="body_mass_kg must be from 10 to 400.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("distance_km_week__isnull", True),
                            ("distance_km_week__range", (0.0, 1000.0)),
                            _connector="OR",
                        ),
                        name="fitting_distance_km_week_range",
                        violation_error_message="distance_km_week must be from 0 to 1000.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("pain_now__isnull", True), ("pain_now__range", (0, 10)), _connector="OR"),
                        name="fitting_pain_now_range",
                        violation_error_message="pain_now must be from 0 to 10.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="HistoryItem",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="history", to="fittings.fitting"
                    ),
                ),
                (
                    "region",
                    models.CharField(
                        choices=[
                            ("heel", "heel"),
                            ("inner_shin", "inner shin"),
                            ("front_of_knee", "front of the knee"),
                            ("foot", "foot"),
                            ("ankle", "ankle"),
                            ("lower_leg", "lower leg"),
                            ("knee", "knee"),
                            ("thigh", "thigh"),
                            ("hip_groin", "hip or groin"),
                            ("lumbosacral", "lower back"),
                            ("abdomen", "abdomen"),
                            ("thoracic_spine", "upper back"),
                            ("chest", "chest"),
                            ("neck", "neck"),
                            ("head", "head"),
                            ("shoulder", "shoulder"),
                            ("upper_arm", "upper arm"),
                            ("elbow", "elbow"),
                            ("forearm", "forearm"),
                            ("wrist", "wrist"),
                            ("hand", "hand"),
                            ("multiple", "several regions"),
                            ("unspecified", "region not stated"),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "side",
                    models.CharField(
                        blank=True, choices=[("left", "left"), ("right", "right"), ("both", "both sides")], max_length=5
                    ),
                ),
                ("now", models.BooleanField(default=False)),
                ("settled_on", models.DateField(blank=True, null=True)),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("now", False), ("settled_on__isnull", True), _connector="OR"),
                        name="history_item_now_or_settled",
                        violation_error_message="A complaint that is there now has not settled.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="FootObservation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="feet", to="fittings.fitting"
                    ),
                ),
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
                    "pronation_deg",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-30.0),
                            django.core.validators.MaxValueValidator(45.0),
                        ],
                    ),
                ),
                (
                    "tibial_rotation_deg",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-30.0),
                            django.core.validators.MaxValueValidator(45.0),
                        ],
                    ),
                ),
                (
                    "rearfoot_eversion_deg",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-30.0),
                            django.core.validators.MaxValueValidator(45.0),
                        ],
                    ),
                ),
                (
                    "cutoffs",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fittings.gradecutoffs",
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
                (
                    "navicular_drop_mm",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-30.0),
                            django.core.validators.MaxValueValidator(60.0),
                        ],
                    ),
                ),
                (
                    "length_mm",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(100.0),
                            django.core.validators.MaxValueValidator(400.0),
                        ],
                    ),
                ),
                (
                    "width_mm",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(40.0),
                            django.core.validators.MaxValueValidator(200.0),
                        ],
                    ),
                ),
            ],
            options={
                "ordering": ["fitting", "foot"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("fitting", "foot"),
                        name="foot_observation_once",
                        violation_error_message="This foot was observed already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("pronation__isnull", True), ("pronation__range", (0, 3)), _connector="OR"),
                        name="foot_observation_pronation_range",
                        violation_error_message="pronation must be from 0 to 3.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tibial_rotation__isnull", True), ("tibial_rotation__range", (0, 3)), _connector="OR"
                        ),
                        name="foot_observation_tibial_rotation_range",
                        violation_error_message="tibial_rotation must be from 0 to 3.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rearfoot_eversion__isnull", True), ("rearfoot_eversion__range", (0, 3)), _connector="OR"
                        ),
                        name="foot_observation_rearfoot_eversion_range",
                        violation_error_message="rearfoot_eversion must be from 0 to 3.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("pronation_deg__isnull", True), ("pronation_deg__range", (-30.0, 45.0)), _connector="OR"
                        ),
                        name="foot_observation_pronation_deg_range",
                        violation_error_message="pronation_deg must be from -30 to 45.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tibial_rotation_deg__isnull", True),
                            ("tibial_rotation_deg__range", (-30.0, 45.0)),
                            _connector="OR",
                        ),
                        name="foot_observation_tibial_rotation_deg_range",
                        violation_error_message="tibial_rotation_deg must be from -30 to 45.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rearfoot_eversion_deg__isnull", True),
                            ("rearfoot_eversion_deg__range", (-30.0, 45.0)),
                            _connector="OR",
                        ),
                        name="foot_observation_rearfoot_eversion_deg_range",
                        violation_error_message="rearfoot_eversion_deg must be from -30 to 45.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("pronation_deg__isnull", True),
                                models.Q(("cutoffs__isnull", False), ("pronation__isnull", False)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("tibial_rotation_deg__isnull", True),
                                models.Q(("cutoffs__isnull", False), ("tibial_rotation__isnull", False)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("rearfoot_eversion_deg__isnull", True),
                                models.Q(("cutoffs__isnull", False), ("rearfoot_eversion__isnull", False)),
                                _connector="OR",
                            ),
                        ),
                        name="foot_observation_degrees_have_grade",
                        violation_error_message="Degrees are kept with the grade and the cut-offs that made it.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("fpi6__isnull", True), ("fpi6__range", (-12, 12)), _connector="OR"),
                        name="foot_observation_fpi6_range",
                        violation_error_message="fpi6 must be from -12 to 12.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("navicular_drop_mm__isnull", True),
                            ("navicular_drop_mm__range", (-30.0, 60.0)),
                            _connector="OR",
                        ),
                        name="foot_observation_navicular_drop_mm_range",
                        violation_error_message="navicular_drop_mm must be from -30 to 60.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("length_mm__isnull", True), ("length_mm__range", (100.0, 400.0)), _connector="OR"
                        ),
                        name="foot_observation_length_mm_range",
                        violation_error_message="length_mm must be from 100 to 400.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("width_mm__isnull", True), ("width_mm__range", (40.0, 200.0)), _connector="OR"
                        ),
                        name="foot_observation_width_mm_range",
                        violation_error_message="width_mm must be from 40 to 200.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="TryOn",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="try_ons", to="fittings.fitting"
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.shoe"
                    ),
                ),
                ("size_eu", models.DecimalField(decimal_places=1, max_digits=4)),
                (
                    "comfort",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(10),
                        ],
                    ),
                ),
                (
                    "with_insole",
                    models.BooleanField(
                        blank=True,
                        help_text="Whether it was tried with the person's own insole or orthosis in it.",
                        null=True,
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("fitting", "shoe", "size_eu"),
                        name="try_on_once",
                        violation_error_message="This shoe was tried in this size already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("comfort__isnull", True), ("comfort__range", (0, 10)), _connector="OR"),
                        name="try_on_comfort_range",
                        violation_error_message="comfort must be from 0 to 10.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Choice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="choices", to="fittings.fitting"
                    ),
                ),
                (
                    "pair",
                    models.PositiveSmallIntegerField(
                        db_default=1,
                        default=1,
                        help_text="1 for the pair that the fitting was for, then those chosen beside it.",
                    ),
                ),
                (
                    "replaces",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="successor",
                        to="fittings.choice",
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
                ("size_eu", models.DecimalField(decimal_places=1, max_digits=4)),
                (
                    "comfort",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(10),
                        ],
                    ),
                ),
                ("reason", models.TextField(blank=True, max_length=500)),
                ("stability", models.FloatField()),
                ("in_target", models.BooleanField()),
                ("probability", models.FloatField(blank=True, null=True)),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("replaces__isnull", True)),
                        fields=("fitting", "pair"),
                        name="choice_once_a_pair",
                        violation_error_message="A shoe was chosen for this pair already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("in_target", True), models.Q(("reason", ""), _negated=True), _connector="OR"
                        ),
                        name="choice_outside_target_has_reason",
                        violation_error_message="A choice outside the target needs a reason.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("probability__isnull", True), ("probability__range", (0, 1)), _connector="OR"
                        ),
                        name="choice_probability_range",
                        violation_error_message="The probability must be from 0 to 1.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("comfort__isnull", True), ("comfort__range", (0, 10)), _connector="OR"),
                        name="choice_comfort_range",
                        violation_error_message="comfort must be from 0 to 10.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LookFoot",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="look_feet", to="fittings.fitting"
                    ),
                ),
                ("gait", models.CharField(choices=[("walking", "walking"), ("running", "running")], max_length=8)),
                (
                    "worn",
                    models.CharField(
                        choices=[("barefoot", "barefoot"), ("own", "own shoe"), ("candidate", "shoe tried on")],
                        max_length=10,
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.shoe",
                    ),
                ),
                ("foot", models.CharField(choices=[("left", "left"), ("right", "right")], max_length=5)),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
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
                    "pronation_deg",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-30.0),
                            django.core.validators.MaxValueValidator(45.0),
                        ],
                    ),
                ),
                (
                    "tibial_rotation_deg",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-30.0),
                            django.core.validators.MaxValueValidator(45.0),
                        ],
                    ),
                ),
                (
                    "rearfoot_eversion_deg",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-30.0),
                            django.core.validators.MaxValueValidator(45.0),
                        ],
                    ),
                ),
                (
                    "cutoffs",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fittings.gradecutoffs",
                    ),
                ),
            ],
            options={
                "ordering": ["fitting", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("fitting", "gait", "worn", "shoe", "foot"),
                        name="look_foot_once",
                        nulls_distinct=False,
                        violation_error_message="This look was recorded already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("gait", "walking"), ("worn", "barefoot"), _negated=True),
                        name="look_foot_is_not_the_observation",
                        violation_error_message="Walking barefoot is the observation of the fitting.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("shoe__isnull", False), ("worn", "candidate")),
                            models.Q(models.Q(("worn", "candidate"), _negated=True), ("shoe__isnull", True)),
                            _connector="OR",
                        ),
                        name="look_foot_shoe_where_tried_on",
                        violation_error_message="Name the shoe where it was one tried on, and no shoe otherwise.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("pronation__isnull", True), ("pronation__range", (0, 3)), _connector="OR"),
                        name="look_foot_pronation_range",
                        violation_error_message="pronation must be from 0 to 3.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tibial_rotation__isnull", True), ("tibial_rotation__range", (0, 3)), _connector="OR"
                        ),
                        name="look_foot_tibial_rotation_range",
                        violation_error_message="tibial_rotation must be from 0 to 3.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rearfoot_eversion__isnull", True), ("rearfoot_eversion__range", (0, 3)), _connector="OR"
                        ),
                        name="look_foot_rearfoot_eversion_range",
                        violation_error_message="rearfoot_eversion must be from 0 to 3.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("pronation_deg__isnull", True), ("pronation_deg__range", (-30.0, 45.0)), _connector="OR"
                        ),
                        name="look_foot_pronation_deg_range",
                        violation_error_message="pronation_deg must be from -30 to 45.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tibial_rotation_deg__isnull", True),
                            ("tibial_rotation_deg__range", (-30.0, 45.0)),
                            _connector="OR",
                        ),
                        name="look_foot_tibial_rotation_deg_range",
                        violation_error_message="tibial_rotation_deg must be from -30 to 45.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rearfoot_eversion_deg__isnull", True),
                            ("rearfoot_eversion_deg__range", (-30.0, 45.0)),
                            _connector="OR",
                        ),
                        name="look_foot_rearfoot_eversion_deg_range",
                        violation_error_message="rearfoot_eversion_deg must be from -30 to 45.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("pronation_deg__isnull", True),
                                models.Q(("cutoffs__isnull", False), ("pronation__isnull", False)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("tibial_rotation_deg__isnull", True),
                                models.Q(("cutoffs__isnull", False), ("tibial_rotation__isnull", False)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("rearfoot_eversion_deg__isnull", True),
                                models.Q(("cutoffs__isnull", False), ("rearfoot_eversion__isnull", False)),
                                _connector="OR",
                            ),
                        ),
                        name="look_foot_degrees_have_grade",
                        violation_error_message="Degrees are kept with the grade and the cut-offs that made it.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ShoeMovement",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="shoe_movements",
                        to="fittings.fitting",
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.shoe"
                    ),
                ),
                (
                    "movement",
                    models.CharField(
                        choices=[
                            ("better", "better than barefoot"),
                            ("same", "same as barefoot"),
                            ("worse", "worse than barefoot"),
                        ],
                        max_length=6,
                    ),
                ),
            ],
            options={
                "ordering": ["fitting", "pk"],
                "constraints": [models.UniqueConstraint(fields=("fitting", "shoe"), name="shoe_movement_once")],
            },
        ),
        migrations.CreateModel(
            name="PictureAngle",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="picture_angles",
                        to="fittings.fitting",
                    ),
                ),
                ("foot", models.CharField(choices=[("left", "left"), ("right", "right")], max_length=5)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("rearfoot_eversion", "Rearfoot eversion"),
                            ("ankle_dorsiflexion", "Ankle angle"),
                            ("navicular_drop", "Navicular drop"),
                        ],
                        max_length=20,
                    ),
                ),
                ("mean", models.FloatField(help_text="Degrees, or mm of a navicular drop.")),
                ("apart", models.FloatField(help_text="How far the two readings are apart, in the same unit.")),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["fitting", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("fitting", "foot", "kind"), name="picture_angle_once"),
                    models.CheckConstraint(
                        condition=models.Q(("apart__gte", 0)), name="picture_angle_apart_not_negative"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ReferralLetter",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="letters", to="fittings.fitting"
                    ),
                ),
                (
                    "addressee",
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
                ("remark", models.TextField(blank=True, max_length=1000)),
                ("written_at", models.DateTimeField()),
                (
                    "written_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "submission",
                    models.UUIDField(blank=True, help_text="Given by the form; twice is once.", null=True, unique=True),
                ),
            ],
            options={
                "ordering": ["written_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="ClinicianReply",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="replies", to="fittings.fitting"
                    ),
                ),
                (
                    "clinician",
                    models.CharField(
                        max_length=120,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[^\\x00-\\x1f\\x7f]*$", "Write this without line breaks or control characters."
                            )
                        ],
                    ),
                ),
                ("received_on", models.DateField()),
                (
                    "wishes",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.CharField(
                            choices=[
                                ("insole", "an insole or orthosis, so a shoe whose own insole comes out"),
                                ("stiff_shoe", "a stiff shoe"),
                                ("soft_shoe", "a soft shoe"),
                                ("no_running", "no running for now"),
                                ("none", "no particular shoe"),
                            ],
                            max_length=12,
                        ),
                        size=None,
                    ),
                ),
                ("note", models.TextField(blank=True, max_length=1000)),
                ("recorded_at", models.DateTimeField()),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "submission",
                    models.UUIDField(blank=True, help_text="Given by the form; twice is once.", null=True, unique=True),
                ),
            ],
            options={
                "verbose_name_plural": "clinicians' replies",
                "ordering": ["received_on", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("wishes", []), _negated=True),
                        name="clinician_reply_has_wishes",
                        violation_error_message="A reply says what the clinician asks for, or that it is no particular shoe.",  # noqa: E501
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SecondObservation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="second_feet", to="fittings.fitting"
                    ),
                ),
                (
                    "fitter",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "gait",
                    models.CharField(
                        choices=[("walking", "walking"), ("running", "running")],
                        db_default="walking",
                        default="walking",
                        max_length=8,
                    ),
                ),
                (
                    "worn",
                    models.CharField(
                        choices=[("barefoot", "barefoot"), ("own", "own shoe"), ("candidate", "shoe tried on")],
                        db_default="barefoot",
                        default="barefoot",
                        max_length=10,
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.shoe",
                    ),
                ),
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
                (
                    "pronation_deg",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-30.0),
                            django.core.validators.MaxValueValidator(45.0),
                        ],
                    ),
                ),
                (
                    "tibial_rotation_deg",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-30.0),
                            django.core.validators.MaxValueValidator(45.0),
                        ],
                    ),
                ),
                (
                    "rearfoot_eversion_deg",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-30.0),
                            django.core.validators.MaxValueValidator(45.0),
                        ],
                    ),
                ),
                (
                    "navicular_drop_mm",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-30.0),
                            django.core.validators.MaxValueValidator(60.0),
                        ],
                    ),
                ),
                (
                    "length_mm",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(100.0),
                            django.core.validators.MaxValueValidator(400.0),
                        ],
                    ),
                ),
                (
                    "width_mm",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(40.0),
                            django.core.validators.MaxValueValidator(200.0),
                        ],
                    ),
                ),
            ],
            options={
                "ordering": ["fitting", "foot"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("fitting", "gait", "worn", "shoe", "foot"),
                        name="second_observation_once_a_look",
                        nulls_distinct=False,
                        violation_error_message="This foot was looked at a second time already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("shoe__isnull", False), ("worn", "candidate")),
                            models.Q(models.Q(("worn", "candidate"), _negated=True), ("shoe__isnull", True)),
                            _connector="OR",
                        ),
                        name="second_observation_shoe_where_tried_on",
                        violation_error_message="Name the shoe where it was one tried on, and no shoe otherwise.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("pronation_deg__isnull", True), ("pronation_deg__range", (-30.0, 45.0)), _connector="OR"
                        ),
                        name="second_observation_pronation_deg_range",
                        violation_error_message="pronation_deg must be from -30 to 45.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("tibial_rotation_deg__isnull", True),
                            ("tibial_rotation_deg__range", (-30.0, 45.0)),
                            _connector="OR",
                        ),
                        name="second_observation_tibial_rotation_deg_range",
                        violation_error_message="tibial_rotation_deg must be from -30 to 45.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rearfoot_eversion_deg__isnull", True),
                            ("rearfoot_eversion_deg__range", (-30.0, 45.0)),
                            _connector="OR",
                        ),
                        name="second_observation_rearfoot_eversion_deg_range",
                        violation_error_message="rearfoot_eversion_deg must be from -30 to 45.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("navicular_drop_mm__isnull", True),
                            ("navicular_drop_mm__range", (-30.0, 60.0)),
                            _connector="OR",
                        ),
                        name="second_observation_navicular_drop_mm_range",
                        violation_error_message="navicular_drop_mm must be from -30 to 60.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("length_mm__isnull", True), ("length_mm__range", (100.0, 400.0)), _connector="OR"
                        ),
                        name="second_observation_length_mm_range",
                        violation_error_message="length_mm must be from 100 to 400.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("width_mm__isnull", True), ("width_mm__range", (40.0, 200.0)), _connector="OR"
                        ),
                        name="second_observation_width_mm_range",
                        violation_error_message="width_mm must be from 40 to 200.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Correction",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "choice",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="correction", to="fittings.choice"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("mistake", "recorded by mistake"),
                            ("exchange", "exchanged"),
                            ("return", "returned"),
                            ("fault", "faulty"),
                        ],
                        max_length=8,
                    ),
                ),
                ("note", models.TextField(max_length=500)),
                ("restocked", models.BooleanField(help_text="The pair went back into sellable stock.")),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("kind", "fault"), ("restocked", True), _negated=True),
                        name="correction_faulty_is_not_sold",
                        violation_error_message="A faulty pair does not go back into sellable stock.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="FollowUp",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "fitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="follow_ups", to="fittings.fitting"
                    ),
                ),
                ("pair", models.PositiveSmallIntegerField(db_default=1, default=1)),
                (
                    "choice",
                    models.ForeignKey(
                        blank=True,
                        help_text="The shoe that it is about; null where only one was ever chosen.",
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="follow_ups",
                        to="fittings.choice",
                    ),
                ),
                (
                    "weeks",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (0, "outside the schedule"),
                            (2, "2 weeks"),
                            (6, "6 weeks"),
                            (12, "12 weeks"),
                            (26, "26 weeks"),
                            (52, "52 weeks"),
                        ]
                    ),
                ),
                ("due_on", models.DateField()),
                ("sent_at", models.DateTimeField(blank=True, null=True)),
                (
                    "reminders",
                    models.PositiveSmallIntegerField(default=0, help_text="Letters sent, the last of them at sent_at."),
                ),
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
                (
                    "closed_at",
                    models.DateTimeField(
                        blank=True, help_text="No longer asked for, because the pair was returned.", null=True
                    ),
                ),
                ("wearing", models.BooleanField(blank=True, null=True)),
                (
                    "distance_km_week",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0.0),
                            django.core.validators.MaxValueValidator(1000.0),
                        ],
                    ),
                ),
                (
                    "comfort",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(10),
                        ],
                    ),
                ),
                (
                    "overuse",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.PositiveSmallIntegerField(), blank=True, null=True, size=4
                    ),
                ),
                ("overuse_total", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("overuse_substantial", models.BooleanField(blank=True, null=True)),
                (
                    "days_off",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(366),
                        ],
                    ),
                ),
                (
                    "recurrence",
                    models.CharField(
                        blank=True,
                        choices=[("", "none"), ("early", "early"), ("late", "late"), ("delayed", "delayed")],
                        max_length=7,
                    ),
                ),
                ("recurrence_reasoning", models.TextField(blank=True)),
                (
                    "nothing_hurts",
                    models.BooleanField(
                        blank=True,
                        help_text="True: nothing hurts. False: something does. Null: pain was not answered.",
                        null=True,
                    ),
                ),
                (
                    "free_of_complaints",
                    models.BooleanField(
                        blank=True,
                        help_text="Free of every complaint recorded at the fitting; null where the answers do not say.",
                        null=True,
                    ),
                ),
                ("comment", models.TextField(blank=True, db_default="", default="", max_length=1000)),
                ("saw_clinician", models.BooleanField(blank=True, help_text="Null: not said.", null=True)),
            ],
            options={
                "ordering": ["due_on", "pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("answered_at__isnull", True)),
                        fields=["due_on"],
                        name="follow_up_open_by_day",
                    )
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("weeks", 0), _negated=True),
                        fields=("fitting", "pair", "weeks"),
                        name="follow_up_once_a_pair_and_date",
                        violation_error_message="This follow-up was made already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("answered_at__isnull", False),
                            models.Q(
                                ("answered_by__isnull", True),
                                ("comfort__isnull", True),
                                ("comment", ""),
                                ("days_off__isnull", True),
                                ("distance_km_week__isnull", True),
                                ("free_of_complaints__isnull", True),
                                ("nothing_hurts__isnull", True),
                                ("overuse__isnull", True),
                                ("overuse_total__isnull", True),
                                ("recurrence", ""),
                                ("saw_clinician__isnull", True),
                                ("wearing__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="follow_up_nothing_before_answer",
                        violation_error_message="A follow-up that was not answered holds no answers.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("reminders__lte", 2)),
                        name="follow_up_reminded_at_most_twice",
                        violation_error_message="A follow-up is reminded of at most twice.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("distance_km_week__isnull", True),
                            ("distance_km_week__range", (0.0, 1000.0)),
                            _connector="OR",
                        ),
                        name="follow_up_distance_km_week_range",
                        violation_error_message="distance_km_week must be from 0 to 1000.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("comfort__isnull", True), ("comfort__range", (0, 10)), _connector="OR"),
                        name="follow_up_comfort_range",
                        violation_error_message="comfort must be from 0 to 10.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("overuse_total__isnull", True), ("overuse_total__range", (0, 100)), _connector="OR"
                        ),
                        name="follow_up_overuse_total_range",
                        violation_error_message="overuse_total must be from 0 to 100.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("days_off__isnull", True), ("days_off__range", (0, 366)), _connector="OR"),
                        name="follow_up_days_off_range",
                        violation_error_message="days_off must be from 0 to 366.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Course",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "customer",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="fittings.customer",
                    ),
                ),
                (
                    "fitting",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="courses",
                        to="fittings.fitting",
                    ),
                ),
                (
                    "choice",
                    models.ForeignKey(
                        db_constraint=False,
                        db_index=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="fittings.choice",
                    ),
                ),
                (
                    "region",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("heel", "heel"),
                            ("inner_shin", "inner shin"),
                            ("front_of_knee", "front of the knee"),
                            ("foot", "foot"),
                            ("ankle", "ankle"),
                            ("lower_leg", "lower leg"),
                            ("knee", "knee"),
                            ("thigh", "thigh"),
                            ("hip_groin", "hip or groin"),
                            ("lumbosacral", "lower back"),
                            ("abdomen", "abdomen"),
                            ("thoracic_spine", "upper back"),
                            ("chest", "chest"),
                            ("neck", "neck"),
                            ("head", "head"),
                            ("shoulder", "shoulder"),
                            ("upper_arm", "upper arm"),
                            ("elbow", "elbow"),
                            ("forearm", "forearm"),
                            ("wrist", "wrist"),
                            ("hand", "hand"),
                            ("multiple", "several regions"),
                            ("unspecified", "region not stated"),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "side",
                    models.CharField(
                        blank=True, choices=[("left", "left"), ("right", "right"), ("both", "both sides")], max_length=5
                    ),
                ),
                (
                    "store",
                    models.ForeignKey(
                        db_constraint=False,
                        db_index=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="core.store",
                    ),
                ),
                (
                    "fitter",
                    models.ForeignKey(
                        db_constraint=False,
                        db_index=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "shoe",
                    models.ForeignKey(
                        db_constraint=False,
                        db_index=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="catalogue.shoe",
                    ),
                ),
                (
                    "band",
                    models.ForeignKey(
                        db_constraint=False,
                        db_index=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="catalogue.band",
                    ),
                ),
                ("use", models.CharField(max_length=10)),
                ("in_target", models.BooleanField()),
                ("chosen_on", models.DateField()),
                ("complaints", models.PositiveSmallIntegerField(help_text="Complaints recorded at the fitting.")),
                ("answered", models.BooleanField(help_text="Whether the person answered any follow-up.")),
                (
                    "waits_since",
                    models.DateField(
                        help_text="The first follow-up due after the last contact, still open.", null=True
                    ),
                ),
                (
                    "left_out",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (1, "had no complaint that could come back"),
                            (2, "answered no follow-up"),
                            (3, "answered, but never said whether the complaint was there"),
                            (4, "had the complaint at every answer"),
                            (5, "said nothing after the complaint had gone, with this shoe"),
                            (6, "chose it to wear beside another pair, which counts"),
                        ],
                        null=True,
                    ),
                ),
                (
                    "entered_days",
                    models.PositiveIntegerField(
                        help_text="Day of the course on which this shoe was chosen; 0 for the first.", null=True
                    ),
                ),
                (
                    "free_until_days",
                    models.PositiveIntegerField(
                        help_text="Last day known to be free of the complaint; a recurrence began after it.", null=True
                    ),
                ),
                (
                    "days",
                    models.PositiveIntegerField(
                        help_text="Day of the visit with the recurrence, the last known answer or the next shoe.",
                        null=True,
                    ),
                ),
                ("km", models.FloatField(help_text="Null where a distance of the course is not known.", null=True)),
                ("recurred", models.BooleanField()),
                (
                    "visits",
                    models.PositiveSmallIntegerField(
                        help_text="Answered follow-ups of the fitting, on its first row; 0 on the others."
                    ),
                ),
                (
                    "visits_open",
                    models.PositiveSmallIntegerField(help_text="Those of them that leave one of the complaints open."),
                ),
            ],
            options={
                "ordering": ["fitting", "region", "side"],
                "indexes": [models.Index(fields=["store", "chosen_on"], name="course_by_store_and_day")],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("choice", "region", "side"), name="course_once_a_complaint_and_choice"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="NoticeTick",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "choice",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notice_ticks",
                        to="fittings.choice",
                    ),
                ),
                (
                    "notice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="catalogue.incidentnotice"
                    ),
                ),
                ("is_informed", models.BooleanField()),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [models.UniqueConstraint(fields=("choice", "notice"), name="notice_tick_once")],
            },
        ),
        migrations.CreateModel(
            name="PainReport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "follow_up",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="pains", to="fittings.followup"
                    ),
                ),
                (
                    "region",
                    models.CharField(
                        choices=[
                            ("heel", "heel"),
                            ("inner_shin", "inner shin"),
                            ("front_of_knee", "front of the knee"),
                            ("foot", "foot"),
                            ("ankle", "ankle"),
                            ("lower_leg", "lower leg"),
                            ("knee", "knee"),
                            ("thigh", "thigh"),
                            ("hip_groin", "hip or groin"),
                            ("lumbosacral", "lower back"),
                            ("abdomen", "abdomen"),
                            ("thoracic_spine", "upper back"),
                            ("chest", "chest"),
                            ("neck", "neck"),
                            ("head", "head"),
                            ("shoulder", "shoulder"),
                            ("upper_arm", "upper arm"),
                            ("elbow", "elbow"),
                            ("forearm", "forearm"),
                            ("wrist", "wrist"),
                            ("hand", "hand"),
                            ("multiple", "several regions"),
                            ("unspecified", "region not stated"),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "side",
                    models.CharField(
                        blank=True, choices=[("left", "left"), ("right", "right"), ("both", "both sides")], max_length=5
                    ),
                ),
                (
                    "score",
                    models.PositiveSmallIntegerField(
                        validators=[
                            django.core.validators.MinValueValidator(0),
                            django.core.validators.MaxValueValidator(10),
                        ]
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("score__isnull", True), ("score__range", (0, 10)), _connector="OR"),
                        name="pain_report_score_range",
                        violation_error_message="score must be from 0 to 10.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SupersededAnswer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "follow_up",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="superseded", to="fittings.followup"
                    ),
                ),
                (
                    "answers",
                    models.JSONField(help_text="The columns of the answers, and the places of pain with their scores."),
                ),
                ("answered_at", models.DateTimeField()),
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
                ("superseded_at", models.DateTimeField()),
                (
                    "superseded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("reason", models.TextField(max_length=500)),
            ],
            options={
                "ordering": ["superseded_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="AnswerConcern",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "follow_up",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="concern", to="fittings.followup"
                    ),
                ),
                (
                    "rules",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="fittings.referralrules"
                    ),
                ),
                ("advice", models.JSONField(help_text="The sentences that the customer was shown.")),
                ("opened_at", models.DateTimeField()),
                ("due_on", models.DateField()),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "stop_signs",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.CharField(max_length=30), blank=True, default=list, size=None
                    ),
                ),
                ("stop_signs_asked_at", models.DateTimeField(blank=True, null=True)),
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
                        blank=True,
                        choices=[
                            ("advised", "reached, and advised to see a clinician"),
                            ("in_care", "is seeing a clinician already"),
                            ("settled", "reached, and it no longer hurts"),
                            ("not_reached", "not reached in spite of several attempts"),
                        ],
                        max_length=12,
                    ),
                ),
                ("note", models.TextField(blank=True, max_length=1000)),
            ],
            options={
                "ordering": ["due_on", "pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("closed_at__isnull", True)),
                        fields=["due_on"],
                        name="answer_concern_open_by_day",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("closed_at__isnull", True), ("closed_by__isnull", True), ("note", ""), ("outcome", "")
                            ),
                            models.Q(
                                ("closed_at__isnull", False),
                                ("closed_by__isnull", False),
                                models.Q(("outcome", ""), _negated=True),
                                models.Q(("note", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="answer_concern_closed_with_what_was_done",
                        violation_error_message="An answer is closed by somebody, with an outcome and what was done.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("stop_signs", []), ("stop_signs_asked_at__isnull", False), _connector="OR"),
                        name="answer_concern_stop_signs_were_asked",
                        violation_error_message="Stop signs can only be there where they were asked about.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ContactTry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "follow_up",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="tries", to="fittings.followup"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("mailed", "e-mail sent"),
                            ("refused", "e-mail refused by the mail server"),
                            ("bounced", "e-mail came back"),
                            ("not_reached", "not reached by telephone"),
                        ],
                        max_length=12,
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "submission",
                    models.UUIDField(blank=True, help_text="Given by the form; twice is once.", null=True, unique=True),
                ),
            ],
            options={
                "verbose_name_plural": "contact tries",
                "ordering": ["at", "pk"],
            },
        ),
        migrations.AddField(
            model_name="fitting",
            name="choice",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="+",
                to="fittings.choice",
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
                        ("advised__isnull", True),
                        ("body_mass_kg__isnull", True),
                        ("choice__isnull", True),
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
    ]
    operations = created_at_once(operations)
