"""A fitting: what was said and seen, the need that followed, what was tried and chosen."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.postgres.fields import ArrayField
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from catalogue.models import Shoe, Use
from core.models import Store, User, printable
from fittings.domain.bounds import LIMITS
from fittings.domain.regions import REGIONS, SIDES
from fittings.domain.shoes.insoles import INSOLES
from fittings.domain.shoes.sizing import SIZE_SYSTEMS
from fittings.models.fitting.cutoffs import GradeCutoffs
from fittings.models.fitting.referral_rules import ReferralRules
from fittings.models.fitting.rules import NeedRules
from fittings.models.people.people import Customer, new_nonce

REGION_CHOICES = list(REGIONS.items())
SIDE_CHOICES = list(SIDES.items())
FEET = ("left", "right")


def within(name: str) -> list[Any]:
    """Validators for the limits that the domain names."""
    low, high = LIMITS[name]
    return [MinValueValidator(low), MaxValueValidator(high)]


def range_constraint(model: str, field: str, limits: str = "") -> models.CheckConstraint:
    """Hold a value, where there is one, within the limits that the domain names."""
    low, high = LIMITS[limits or field]
    return models.CheckConstraint(
        condition=Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__range": (low, high)}),
        name=f"{model}_{field}_range",
        violation_error_message=f"{field} must be from {low:g} to {high:g}.",
    )


def graded_where_measured(observation: str) -> Q:
    """No degrees, or degrees with their grade and the cut-offs that made it."""
    return Q(**{f"{observation}_deg__isnull": True}) | Q(**{f"{observation}__isnull": False, "cutoffs__isnull": False})


class FittingQuerySet(models.QuerySet["Fitting"]):
    def visible_to(self, user: Any) -> FittingQuerySet:
        """Fittings of the stores that the user works in."""
        return self.filter(store_id__in=user.store_ids())

    def with_consent(self) -> FittingQuerySet:
        """Fittings of people who agreed that they are kept."""
        return self.filter(kept=True)

    def without_training(self) -> FittingQuerySet:
        """Those of them whose people are real: not the invented ones of training stores, who are in no figure."""
        return self.with_consent().filter(store__is_training=False)


class CushioningWish(models.TextChoices):
    """How soft somebody wants to stand."""

    NONE = "", "no wish"
    MORE = "more", "softer"
    LESS = "less", "firmer"


class Fitting(models.Model):
    """One fitting. Without consent only that it took place is kept: store, fitter, date."""

    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="fittings")
    fitter = models.ForeignKey(User, on_delete=models.PROTECT, related_name="fittings")
    at = models.DateTimeField()
    kept = models.BooleanField()
    submission = models.UUIDField(null=True, blank=True, unique=True, help_text="Given by the form; twice is once.")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="fittings")

    use = models.CharField(max_length=10, choices=Use.choices, blank=True)
    body_mass_kg = models.FloatField(null=True, blank=True, validators=within("body_mass_kg"))
    distance_km_week = models.FloatField(null=True, blank=True, validators=within("distance_km_week"))
    pain_now = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("pain_now"))
    stop_signs = ArrayField(models.CharField(max_length=30), default=list, blank=True)
    stop_signs_asked = models.BooleanField(
        default=False, db_default=False, help_text="Whether the stop signs were asked about; none may be the answer."
    )
    pain_weeks = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("pain_weeks"))
    clinician_advised = models.BooleanField(
        null=True, blank=True, help_text="Whether a customer with a stop sign was advised to see a clinician."
    )
    referral_rules = models.ForeignKey(ReferralRules, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    referral_advice = models.JSONField(
        null=True, blank=True, help_text="The sentences of the referral then; null in fittings older than the rules."
    )
    hip_weak = models.BooleanField(null=True, blank=True)
    current_shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    current_shoe_text = models.CharField(
        max_length=160,
        blank=True,
        default="",
        db_default="",
        validators=[printable],
        help_text="The shoe worn now as it was said, where it is not in the catalogue.",
    )
    insole = models.CharField(
        max_length=8,
        choices=list(INSOLES.items()),
        blank=True,
        default="",
        db_default="",
        help_text="What is worn in the shoe; empty where it was not asked.",
    )
    size_system = models.CharField(
        max_length=8,
        choices=list(SIZE_SYSTEMS.items()),
        blank=True,
        default="",
        db_default="",
        help_text="In which system the customer says sizes; empty for the store’s.",
    )
    cushioning_wish = models.CharField(max_length=4, choices=CushioningWish.choices, blank=True)
    size_eu = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    link_nonce = models.CharField(
        max_length=16,
        blank=True,
        default=new_nonce,
        db_default="",
        editable=False,
        help_text="Replaced to end the customer’s links.",
    )
    # The newest choice of the first pair: what pages mean by the shoe of a fitting. Follows from the choices.
    choice = models.ForeignKey("Choice", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")

    # The need as it was worked out then; the rules may have changed since.
    rules = models.ForeignKey(NeedRules, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    need_centre = models.FloatField(null=True, blank=True)
    need_low = models.FloatField(null=True, blank=True)
    need_high = models.FloatField(null=True, blank=True)
    need_contributions = models.JSONField(default=list, blank=True)
    need_left_out = ArrayField(models.CharField(max_length=40), default=list, blank=True)
    advised = models.JSONField(
        null=True, blank=True, help_text="The shoes shown then, best first, with their scores of then; null: not noted."
    )

    objects = FittingQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]
        indexes: ClassVar = [models.Index(fields=["store", "-at"], name="fitting_by_store_and_day")]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(
                    kept=True,
                    customer__isnull=False,
                    rules__isnull=False,
                    need_low__isnull=False,
                    need_high__isnull=False,
                    need_centre__isnull=False,
                )
                & ~Q(use="")
                | Q(
                    kept=False,
                    customer__isnull=True,
                    use="",
                    body_mass_kg__isnull=True,
                    distance_km_week__isnull=True,
                    pain_now__isnull=True,
                    stop_signs=[],
                    stop_signs_asked=False,
                    hip_weak__isnull=True,
                    current_shoe__isnull=True,
                    cushioning_wish="",
                    size_eu__isnull=True,
                    choice__isnull=True,
                    advised__isnull=True,
                    rules__isnull=True,
                    need_centre__isnull=True,
                    need_low__isnull=True,
                    need_high__isnull=True,
                    need_contributions=[],
                    need_left_out=[],
                ),
                name="fitting_nothing_kept_without_consent",
                violation_error_message="Without consent nothing of the person may be kept.",
            ),
            models.CheckConstraint(
                condition=Q(kept=True) | Q(current_shoe_text="", insole="", size_system=""),
                name="fitting_shoes_and_sizes_with_consent_only",
                violation_error_message="Without consent nothing of the person may be kept.",
            ),
            models.CheckConstraint(
                condition=Q(current_shoe__isnull=True) | Q(current_shoe_text=""),
                name="fitting_worn_now_named_once",
                violation_error_message="The shoe worn now is one of the catalogue or a text, not both.",
            ),
            models.CheckConstraint(
                condition=Q(need_low__isnull=True) | Q(need_low__lte=F("need_centre"), need_centre__lte=F("need_high")),
                name="fitting_need_in_order",
                violation_error_message="The need’s centre must lie within it.",
            ),
            models.CheckConstraint(
                condition=Q(stop_signs_asked=True) | Q(stop_signs=[]),
                name="fitting_stop_signs_were_asked",
                violation_error_message="Stop signs can only be there where they were asked about.",
            ),
            models.CheckConstraint(
                condition=Q(kept=True)
                | Q(
                    pain_weeks__isnull=True,
                    clinician_advised__isnull=True,
                    referral_rules__isnull=True,
                    referral_advice__isnull=True,
                ),
                name="fitting_no_referral_kept_without_consent",
                violation_error_message="Without consent nothing of the person may be kept.",
            ),
            range_constraint("fitting", "pain_weeks"),
            range_constraint("fitting", "body_mass_kg"),
            range_constraint("fitting", "distance_km_week"),
            range_constraint("fitting", "pain_now"),
        ]

    def __str__(self) -> str:
        return f"fitting {self.pk}"


class HistoryItem(models.Model):
    """One complaint stated at a fitting: where, whether it is there now, and since when it no longer is."""

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="history")
    region = models.CharField(max_length=20, choices=REGION_CHOICES)
    side = models.CharField(max_length=5, choices=SIDE_CHOICES, blank=True)
    now = models.BooleanField(default=False)
    settled_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(now=False) | Q(settled_on__isnull=True),
                name="history_item_now_or_settled",
                violation_error_message="A complaint that is there now has not settled.",
            ),
        ]

    def __str__(self) -> str:
        return f"complaint {self.pk} of fitting {self.fitting_id}"


class FootObservation(models.Model):
    """What we observed and measured of one foot; null where it was not looked at."""

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="feet")
    foot = models.CharField(max_length=5, choices=[(foot, foot) for foot in FEET])
    pronation = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("grade"))
    tibial_rotation = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("grade"))
    rearfoot_eversion = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("grade"))
    # Where degrees were entered, the grade above follows from them by the cut-offs named here.
    pronation_deg = models.FloatField(null=True, blank=True, validators=within("degrees"))
    tibial_rotation_deg = models.FloatField(null=True, blank=True, validators=within("degrees"))
    rearfoot_eversion_deg = models.FloatField(null=True, blank=True, validators=within("degrees"))
    cutoffs = models.ForeignKey(GradeCutoffs, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    fpi6 = models.SmallIntegerField(null=True, blank=True, validators=within("fpi6"))
    navicular_drop_mm = models.FloatField(null=True, blank=True, validators=within("navicular_drop_mm"))
    length_mm = models.FloatField(null=True, blank=True, validators=within("length_mm"))
    width_mm = models.FloatField(null=True, blank=True, validators=within("width_mm"))

    class Meta:
        ordering: ClassVar = ["fitting", "foot"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["fitting", "foot"],
                name="foot_observation_once",
                violation_error_message="This foot was observed already.",
            ),
            range_constraint("foot_observation", "pronation", "grade"),
            range_constraint("foot_observation", "tibial_rotation", "grade"),
            range_constraint("foot_observation", "rearfoot_eversion", "grade"),
            range_constraint("foot_observation", "pronation_deg", "degrees"),
            range_constraint("foot_observation", "tibial_rotation_deg", "degrees"),
            range_constraint("foot_observation", "rearfoot_eversion_deg", "degrees"),
            models.CheckConstraint(
                condition=graded_where_measured("pronation")
                & graded_where_measured("tibial_rotation")
                & graded_where_measured("rearfoot_eversion"),
                name="foot_observation_degrees_have_grade",
                violation_error_message="Degrees are kept with the grade and the cut-offs that made it.",
            ),
            range_constraint("foot_observation", "fpi6"),
            range_constraint("foot_observation", "navicular_drop_mm"),
            range_constraint("foot_observation", "length_mm"),
            range_constraint("foot_observation", "width_mm"),
        ]

    def __str__(self) -> str:
        return f"{self.foot} foot of fitting {self.fitting_id}"


class TryOn(models.Model):
    """A shoe tried on in a size, and how comfortable it was (0 to 10)."""

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="try_ons")
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="+")
    size_eu = models.DecimalField(max_digits=4, decimal_places=1)
    comfort = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("comfort"))
    with_insole = models.BooleanField(
        null=True, blank=True, help_text="Whether it was tried with the person’s own insole or orthosis in it."
    )
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["fitting", "shoe", "size_eu"],
                name="try_on_once",
                violation_error_message="This shoe was tried in this size already.",
            ),
            range_constraint("try_on", "comfort"),
        ]

    def __str__(self) -> str:
        return f"try-on {self.pk} of fitting {self.fitting_id}"
