"""The check shoe of a rig, and the alarms that its tests raised."""

from __future__ import annotations

import datetime as dt
from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q

from labtests.models.benchtests import BenchTest
from labtests.models.rigs import Rig
from labtests.models.specimens import Specimen, SpecimenKind


class CheckQuantity(models.TextChoices):
    """What is charted of a check shoe; the values are columns of a test."""

    TORQUE = "torque_15_nm", "torque"
    DEFLECTION = "deflection_mm", "heel deflection"


class CheckDutyQuerySet(models.QuerySet["CheckDuty"]):
    def current(self) -> CheckDutyQuerySet:
        """Those on duty."""
        return self.filter(retired_at__isnull=True)

    def covering_test(self) -> CheckDutyQuerySet:
        """Duties that a test of an outer query falls into, on whatever rig it was."""
        return self.filter(specimen=OuterRef("specimen"), since__lte=OuterRef("performed_at__date"))


def is_of_check_shoe() -> Q:
    """Tests of check shoes: of those that are of that kind, and of samples while they were on duty."""
    return Q(specimen__kind=SpecimenKind.CHECK) | Q(Exists(CheckDuty.objects.covering_test()))


class CheckDuty(models.Model):
    """A specimen as the check shoe of a rig, from a day on until it is retired."""

    rig = models.ForeignKey(Rig, on_delete=models.PROTECT, related_name="check_duties")
    specimen = models.ForeignKey(Specimen, on_delete=models.PROTECT, related_name="check_duties")
    since = models.DateField()
    designated_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    designated_at = models.DateTimeField()
    reason = models.TextField()
    retired_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    retired_at = models.DateTimeField(null=True)
    retired_because = models.TextField(blank=True)

    objects = CheckDutyQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["rig", "-designated_at", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["rig"],
                condition=Q(retired_at__isnull=True),
                name="check_duty_one_a_rig",
                violation_error_message="This rig has a check shoe on duty.",
            ),
            models.CheckConstraint(
                condition=Q(retired_at__isnull=True) | (Q(retired_by__isnull=False) & ~Q(retired_because="")),
                name="check_duty_retired_because",
                violation_error_message="A retired check shoe needs who retired it and why.",
            ),
        ]

    def __str__(self) -> str:
        return f"check shoe {self.specimen.code} of {self.rig.code}"


class CheckAlarmQuerySet(models.QuerySet["CheckAlarm"]):
    def open(self) -> CheckAlarmQuerySet:
        """Those that no reviewer has cleared."""
        return self.filter(cleared_at__isnull=True)


class CheckAlarm(models.Model):
    """A rule of the chart broken at a test of the check shoe.

    `points` are the tests that make the pattern. They leave limits and runs when the alarm is cleared. Tests on the rig
    after `doubted_since`, its last check in control, are in doubt while the alarm is open; null puts all of them in
    doubt. `stopped_rig` is false where somebody had stopped the rig by hand before.
    """

    duty = models.ForeignKey(CheckDuty, on_delete=models.PROTECT, related_name="alarms")
    test = models.ForeignKey(BenchTest, on_delete=models.PROTECT, related_name="check_alarms")
    quantity = models.CharField(max_length=16, choices=CheckQuantity.choices)
    rule = models.CharField(max_length=24)
    words = models.TextField()
    points = models.JSONField()
    doubted_since = models.DateTimeField(null=True)
    stopped_rig = models.BooleanField()
    raised_at = models.DateTimeField()
    cleared_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    cleared_at = models.DateTimeField(null=True)
    cleared_because = models.TextField(blank=True)

    objects = CheckAlarmQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-raised_at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(cleared_at__isnull=True) | (Q(cleared_by__isnull=False) & ~Q(cleared_because="")),
                name="check_alarm_cleared_because",
                violation_error_message="A cleared alarm needs who cleared it and why.",
            ),
        ]

    def __str__(self) -> str:
        return f"alarm at test {self.test_id}, {CheckQuantity(self.quantity).label}"

    def doubts(self, performed_at: dt.datetime) -> bool:
        """Whether a test of that time is in doubt by this alarm."""
        return self.doubted_since is None or performed_at > self.doubted_since
