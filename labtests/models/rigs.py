"""Rigs and their calibrations."""

from __future__ import annotations

from datetime import date
from typing import ClassVar

from django.core.validators import MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q

from core.models import printable

code_shape = RegexValidator(
    r"\A[A-Za-z0-9][A-Za-z0-9._-]{0,63}\Z", "Use letters, digits, '.', '_' or '-', a letter or digit first."
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


# Signs for readers; the values are kept in these units.
CALIBRATION_UNITS = {"force": "N", "torque": "N·m", "displacement": "mm", "angle": "°", "temperature": "°C"}


class CalibrationQuerySet(models.QuerySet["Calibration"]):
    def covering(self, day: date) -> CalibrationQuerySet:
        """Calibrations in date on a day, the newest last."""
        return self.filter(calibrated_on__lte=day, due_on__gte=day).order_by("calibrated_on", "pk")


class Calibration(models.Model):
    """What a certificate says about one quantity of a rig, in N, N·m, mm, ° or °C. Never edited: another follows."""

    rig = models.ForeignKey(Rig, on_delete=models.PROTECT, related_name="calibrations")
    quantity = models.CharField(max_length=16, choices=CalibratedQuantity.choices)
    certificate = models.CharField(max_length=80, validators=[printable])
    calibrated_on = models.DateField()
    due_on = models.DateField()
    standard_uncertainty = models.FloatField(validators=[MinValueValidator(0)])
    resolution = models.FloatField(validators=[MinValueValidator(0)])

    objects = CalibrationQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["rig", "quantity", "-calibrated_on"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["rig", "quantity", "calibrated_on"],
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
                violation_error_message="Uncertainty and resolution can't be negative.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.rig.code}, {self.certificate}, {self.calibrated_on}"
