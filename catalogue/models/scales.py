"""The scale of bands that the stability axis is cut into."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from core.models import printable


class Scale(models.Model):
    """A way of cutting the stability axis into bands. A version is never edited: a new one is made."""

    version = models.CharField(max_length=20, unique=True)

    class Meta:
        ordering: ClassVar = ["version"]

    def __str__(self) -> str:
        return self.version


class Band(models.Model):
    """One interval of a scale, lower limit included, upper limit excluded; the outer bands are open."""

    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, related_name="bands")
    order = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=40, validators=[printable])
    lower = models.FloatField(null=True, blank=True)
    upper = models.FloatField(null=True, blank=True)
    suits = models.TextField()
    runner_mass_max_kg = models.FloatField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["scale", "order"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["scale", "order"], name="band_order_once"),
            models.CheckConstraint(
                condition=Q(lower__isnull=True) | Q(upper__isnull=True) | Q(lower__lt=F("upper")),
                name="band_lower_below_upper",
                violation_error_message="A band’s lower limit must be below its upper limit.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.scale}: {self.name}"
