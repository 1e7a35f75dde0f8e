"""Rigs and their calibrations."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import ClassVar

from django.conf import settings
from django.core.validators import MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q

from core.models import printable
from labtests.domain.conditions.calibrations import Certificate, Point

code_shape = RegexValidator(
    r"\A[A-Za-z0-9][A-Za-z0-9._-]{0,63}\Z", "Use letters, digits, “.”, “_” or “-”, a letter or digit first."
)


class Rig(models.Model):
    """A bench that twists and presses shoes. While it is stopped nothing measured on it can be published."""

    code = models.CharField(max_length=64, unique=True, validators=[code_shape])
    name = models.CharField(max_length=80, blank=True, validators=[printable])
    is_stopped = models.BooleanField(default=False)
    stopped_because = models.TextField(blank=True)
    # Since when its tests are in doubt, as somebody said who stopped it by hand; null: all of them.
    stopped_since = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["code"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(is_stopped=False) | ~Q(stopped_because=""),
                name="rig_stopped_because",
                violation_error_message="A stopped rig needs a reason.",
            ),
            models.CheckConstraint(
                condition=Q(is_stopped=True) | Q(stopped_since__isnull=True),
                name="rig_stopped_since",
                violation_error_message="Only a stopped rig has a time since which it is in doubt.",
            ),
        ]

    def __str__(self) -> str:
        return self.code


class CalibratedQuantity(models.TextChoices):
    """What must be in calibration on a rig."""

    FORCE = "force", "force"
    TORQUE = "torque", "torque"
    DISPLACEMENT = "displacement", "displacement"
    ANGLE = "angle", "angle"
    TEMPERATURE = "temperature", "temperature"


# Signs for readers; the values are stored in these units.
CALIBRATION_UNITS = {"force": "N", "torque": "N·m", "displacement": "mm", "angle": "°", "temperature": "°C"}


class CalibrationQuerySet(models.QuerySet["Calibration"]):
    def valid(self) -> CalibrationQuerySet:
        """Calibrations that were not struck."""
        return self.filter(struck_at__isnull=True)


class Calibration(models.Model):
    """What a certificate says about one quantity of a rig, in N, N·m, mm, ° or °C. Never edited: another follows.

    `needs_signature`: it counts only once somebody other than `recorded_by` has signed it. Those recorded before
    signatures were introduced need none. `points`: [{"reference", "found", "left"}], what the rig showed at each value
    of the standard, before and after adjustment ("left" is null where nothing was adjusted). `gain` is what is
    indicated a unit of the true value, `degrees_of_freedom` null where u is known exactly.
    """

    rig = models.ForeignKey(Rig, on_delete=models.PROTECT, related_name="calibrations")
    quantity = models.CharField(max_length=16, choices=CalibratedQuantity.choices)
    certificate = models.CharField(max_length=80, validators=[printable])
    calibrated_on = models.DateField()
    due_on = models.DateField()
    standard_uncertainty = models.FloatField(validators=[MinValueValidator(0)])
    resolution = models.FloatField(validators=[MinValueValidator(0)])

    laboratory = models.CharField(max_length=120, blank=True, default="", db_default="", validators=[printable])
    reference_standard = models.CharField(max_length=200, blank=True, default="", db_default="", validators=[printable])
    range_low = models.FloatField(null=True, blank=True)
    range_high = models.FloatField(null=True, blank=True)
    points = models.JSONField(default=list, db_default=[], blank=True)
    zero = models.FloatField(null=True, blank=True)
    gain = models.FloatField(null=True, blank=True)
    degrees_of_freedom = models.FloatField(null=True, blank=True)

    # The file of the certificate: its own name, where it is in the storage, and what its bytes are.
    file_name = models.CharField(max_length=200, blank=True, default="", db_default="")
    file_key = models.CharField(max_length=120, blank=True, default="", db_default="")
    file_type = models.CharField(max_length=40, blank=True, default="", db_default="")
    file_sha256 = models.CharField(max_length=64, blank=True, default="", db_default="")

    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    recorded_at = models.DateTimeField(null=True, blank=True)
    needs_signature = models.BooleanField(default=False, db_default=False)
    signed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    signed_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_because = models.TextField(blank=True, default="", db_default="")

    objects = CalibrationQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["rig", "quantity", "-calibrated_on"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["rig", "quantity", "calibrated_on"],
                condition=Q(struck_at__isnull=True),
                name="calibration_once_a_day",
                violation_error_message="This quantity of the rig already has a calibration of that day.",
            ),
            models.CheckConstraint(
                condition=Q(due_on__gt=F("calibrated_on")),
                name="calibration_due_after",
                violation_error_message="A calibration is due after the day it was made.",
            ),
            models.CheckConstraint(
                condition=Q(standard_uncertainty__gte=0, resolution__gte=0),
                name="calibration_not_negative",
                violation_error_message="Uncertainty and resolution can’t be negative.",
            ),
            models.CheckConstraint(
                condition=Q(range_low__isnull=True, range_high__isnull=True) | Q(range_high__gt=F("range_low")),
                name="calibration_range",
                violation_error_message="A range ends above where it begins.",
            ),
            models.CheckConstraint(
                condition=Q(signed_by__isnull=True, signed_at__isnull=True)
                | (Q(signed_by__isnull=False, signed_at__isnull=False) & ~Q(signed_by=F("recorded_by"))),
                name="calibration_signed_by_another",
                violation_error_message="Somebody other than the author signs a calibration.",
            ),
            models.CheckConstraint(
                condition=Q(struck_at__isnull=True, struck_by__isnull=True, struck_because="")
                | (Q(struck_at__isnull=False, struck_by__isnull=False) & ~Q(struck_because="")),
                name="calibration_struck_because",
                violation_error_message="A calibration is struck by somebody, with a reason.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.rig.code}, {self.certificate}, {self.calibrated_on}"

    @property
    def is_signed(self) -> bool:
        return not self.needs_signature or self.signed_at is not None

    @property
    def is_struck(self) -> bool:
        return self.struck_at is not None

    @property
    def unit(self) -> str:
        return CALIBRATION_UNITS[self.quantity]

    def to_domain(self) -> Certificate:
        """What the certificate says."""
        return Certificate(
            self.calibrated_on,
            self.due_on,
            self.standard_uncertainty,
            self.resolution,
            range_low=self.range_low,
            range_high=self.range_high,
            points=tuple(Point(**point) for point in self.points),
            zero=self.zero,
            gain=self.gain,
            degrees_of_freedom=self.degrees_of_freedom,
        )

    def covers(self, day: date) -> bool:
        return self.calibrated_on <= day <= self.due_on


def calibrations_on(known: Iterable[Calibration], day: date) -> dict[str, Calibration]:
    """For each quantity the calibration that a test of that day depends on.

    The newest signed one in date; only where there is none, the newest that waits for its signature. Struck ones never.
    """
    covering = [item for item in known if not item.is_struck and item.covers(day)]
    covering.sort(key=lambda item: (item.is_signed, item.calibrated_on, item.pk or 0))
    return {item.quantity: item for item in covering}
