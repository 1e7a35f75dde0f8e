"""Gauge studies: several operators test the same specimens on one rig, each several times."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from core.models import printable
from labtests.models.rigs import Rig
from labtests.models.specimens import Specimen

MIN_TRIALS, MAX_TRIALS = 2, 20


class GaugeStudy(models.Model):
    """The plan of a study. Its readings are the tests of these specimens by these operators on the rig in its days.

    Open while `closed_at` is null; `ends_on` null means until further notice.
    """

    title = models.CharField(max_length=80, validators=[printable])
    rig = models.ForeignKey(Rig, on_delete=models.PROTECT, related_name="gauge_studies")
    specimens = models.ManyToManyField(Specimen, through="GaugeStudyPart", related_name="gauge_studies")
    operators = models.ManyToManyField(settings.AUTH_USER_MODEL, through="GaugeStudyOperator", related_name="+")
    trials = models.PositiveSmallIntegerField()
    begins_on = models.DateField()
    ends_on = models.DateField(null=True)
    reason = models.TextField()
    planned_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    planned_at = models.DateTimeField()
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    closed_at = models.DateTimeField(null=True)
    closed_because = models.TextField(blank=True)

    class Meta:
        ordering: ClassVar = ["-planned_at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(trials__range=(MIN_TRIALS, MAX_TRIALS)),
                name="gauge_study_trials",
                violation_error_message=f"Each operator tests each specimen {MIN_TRIALS} to {MAX_TRIALS} times.",
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("begins_on")),
                name="gauge_study_days",
                violation_error_message="A study ends on or after the day it begins.",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | (Q(closed_by__isnull=False) & ~Q(closed_because="")),
                name="gauge_study_closed_because",
                violation_error_message="A closed study needs who closed it and why.",
            ),
        ]

    def __str__(self) -> str:
        return f"gauge study {self.title}"


class GaugeStudyPart(models.Model):
    """A specimen of a study."""

    study = models.ForeignKey(GaugeStudy, on_delete=models.PROTECT, related_name="parts")
    specimen = models.ForeignKey(Specimen, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["study", "specimen__code"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["study", "specimen"], name="gauge_study_part_once")]

    def __str__(self) -> str:
        return f"{self.specimen.code} in {self.study}"


class GaugeStudyOperator(models.Model):
    """An operator of a study."""

    study = models.ForeignKey(GaugeStudy, on_delete=models.PROTECT, related_name="people")
    operator = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["study", "operator__username"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["study", "operator"], name="gauge_study_operator_once")
        ]

    def __str__(self) -> str:
        return f"{self.operator.username} in {self.study}"
