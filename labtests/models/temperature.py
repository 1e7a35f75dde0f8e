"""Temperature studies: one specimen tested at several temperatures, and the coefficients that came of it."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from core.models import printable
from labtests.models.rigs import Rig
from labtests.models.specimens import Specimen


class TemperatureState(models.TextChoices):
    """Where a temperature study is."""

    OPEN = "open", "testing"
    PROPOSED = "proposed", "waiting for adoption"
    ADOPTED = "adopted", "in use"
    REPLACED = "replaced", "replaced by a later one"
    DISCARDED = "discarded", "discarded"


class TemperatureStudy(models.Model):
    """A plan, its readings being the tests of the specimen on the rig in these days; then the figures proposed of it.

    `figures` has for each reading its coefficient, standard uncertainty and interval (%/K), the number of tests and
    the temperatures that they span (°C); empty while testing. One study is in use at a time.
    """

    title = models.CharField(max_length=80, validators=[printable])
    rig = models.ForeignKey(Rig, on_delete=models.PROTECT, related_name="temperature_studies")
    specimen = models.ForeignKey(Specimen, on_delete=models.PROTECT, related_name="temperature_studies")
    begins_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)
    reason = models.TextField()
    planned_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    planned_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=TemperatureState.choices, default=TemperatureState.OPEN)
    figures = models.JSONField(default=dict, blank=True)
    proposed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    proposed_at = models.DateTimeField(null=True, blank=True)
    proposed_because = models.TextField(blank=True)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_because = models.TextField(blank=True)

    class Meta:
        ordering: ClassVar = ["-planned_at", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["state"], condition=Q(state=TemperatureState.ADOPTED), name="temperature_study_one_in_use"
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("begins_on")),
                name="temperature_study_days",
                violation_error_message="A study ends on or after the day it begins.",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=[TemperatureState.PROPOSED, TemperatureState.ADOPTED])
                | (Q(proposed_by__isnull=False, proposed_at__isnull=False) & ~Q(figures={})),
                name="temperature_study_proposed_by",
                violation_error_message="Proposed coefficients need their figures and who proposed them.",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=[TemperatureState.ADOPTED, TemperatureState.REPLACED])
                | (Q(decided_by__isnull=False) & ~Q(decided_by=F("proposed_by"))),
                name="temperature_study_two_people",
                violation_error_message="Coefficients are adopted by somebody else than who proposed them.",
            ),
        ]

    def __str__(self) -> str:
        return f"temperature study {self.title}"
