"""What was measured on a picture. The picture itself never leaves the tablet, and no marks on it are stored."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from core.models import User
from fittings.domain.fitting.angles import KINDS
from fittings.models.fitting.fitting import FEET, Fitting


class PictureAngle(models.Model):
    """The mean of two readings of one measure of one foot, and how far the two are apart."""

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="picture_angles")
    foot = models.CharField(max_length=5, choices=[(foot, foot) for foot in FEET])
    kind = models.CharField(max_length=20, choices=[(kind.name, kind.label) for kind in KINDS.values()])
    mean = models.FloatField(help_text="Degrees, or mm of a navicular drop.")
    apart = models.FloatField(help_text="How far the two readings are apart, in the same unit.")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["fitting", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["fitting", "foot", "kind"], name="picture_angle_once"),
            models.CheckConstraint(condition=models.Q(apart__gte=0), name="picture_angle_apart_not_negative"),
        ]

    def __str__(self) -> str:
        return f"measure on a picture of the {self.foot} foot of fitting {self.fitting_id}"
