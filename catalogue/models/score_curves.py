"""Published curves: how a shoe behaved on the bench on its way to the readings that are scored."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import F, Q

from catalogue.models.shoes import Shoe


class CurveKind(models.TextChoices):
    """Which curve: torque (N·m) over the angle (°), or deflection of the heel (mm) over the force (N)."""

    TORSION = "torsion", "torsion"
    COMPRESSION = "compression", "heel compression"


def _series() -> ArrayField[list[float], list[float]]:
    return ArrayField(models.FloatField())


class ScoreCurve(models.Model):
    """One averaged curve of a shoe, on a few points: the mean over its specimens, the least and most of any recording.

    It belongs to the shoe and not to a score card, because a scoring model that replaces all cards leaves what was
    measured as it is. Nothing audits it: it follows from the approved tests and is made again with each publication.
    """

    # The unique constraint's index begins with the shoe.
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="score_curves", db_index=False)
    kind = models.CharField(max_length=12, choices=CurveKind.choices)
    at = _series()
    mean = _series()
    low = _series()
    high = _series()
    specimens = models.PositiveSmallIntegerField()
    recordings = models.PositiveIntegerField()

    class Meta:
        ordering: ClassVar = ["shoe", "-kind"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["shoe", "kind"], name="score_curve_once"),
            models.CheckConstraint(
                condition=Q(mean__len=F("at__len"), low__len=F("at__len"), high__len=F("at__len"), at__len__gte=2),
                name="score_curve_of_one_length",
                violation_error_message="The series of a curve have one length, of two points at least.",
            ),
            models.CheckConstraint(
                condition=Q(specimens__gte=1, recordings__gte=F("specimens")), name="score_curve_of_recordings"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.shoe_id}"
