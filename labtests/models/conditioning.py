"""The log of the conditioning chambers: which specimen lay where, from when to when."""

from __future__ import annotations

from typing import ClassVar

import numpy as np
from django.conf import settings
from django.db import models
from django.db.models import F, Q

from core.models import printable
from labtests.domain.conditions.climate import ClimateSeries
from labtests.domain.conditions.conditioning import Stay
from labtests.models.benchtests import POINTS, BenchTest
from labtests.models.rigs import code_shape
from labtests.models.specimens import Specimen
from labtests.models.uploads import NAME_LENGTH


class Chamber(models.Model):
    """A room or cabinet that keeps the protocol's climate."""

    code = models.CharField(max_length=64, unique=True, validators=[code_shape])
    name = models.CharField(max_length=80, blank=True, validators=[printable])

    class Meta:
        ordering: ClassVar = ["code"]

    def __str__(self) -> str:
        return self.code


class ConditioningEntryQuerySet(models.QuerySet["ConditioningEntry"]):
    def valid(self) -> ConditioningEntryQuerySet:
        """Entries that were not struck."""
        return self.filter(struck_at__isnull=True)

    def in_chamber(self) -> ConditioningEntryQuerySet:
        """Entries of specimens that are in a chamber now."""
        return self.valid().filter(out_at__isnull=True)


class ConditioningEntry(models.Model):
    """One stay of a specimen in a chamber. Never edited: a wrong one is struck with a reason and written again.

    `noted_at` is when the entry was written, which may be later than `in_at`.
    """

    specimen = models.ForeignKey(Specimen, on_delete=models.PROTECT, related_name="conditioning")
    chamber = models.ForeignKey(Chamber, on_delete=models.PROTECT, related_name="entries")
    in_at = models.DateTimeField(db_index=True)
    noted_at = models.DateTimeField()
    put_in_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    out_at = models.DateTimeField(null=True, blank=True)
    taken_out_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=300, blank=True, validators=[printable])
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    struck_because = models.TextField(blank=True)

    # Set by the service where the very same was noted a moment before; not a column.
    is_repeat: bool = False

    objects = ConditioningEntryQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-in_at", "-pk"]
        verbose_name = "conditioning entry"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(out_at__isnull=True) | Q(out_at__gt=F("in_at")),
                name="conditioning_out_after_in",
                violation_error_message="A specimen is taken out after it was put in.",
            ),
            models.CheckConstraint(
                condition=Q(out_at__isnull=True, taken_out_by__isnull=True)
                | Q(out_at__isnull=False, taken_out_by__isnull=False),
                name="conditioning_out_by",
                violation_error_message="Who took a specimen out is noted with the time.",
            ),
            models.CheckConstraint(
                condition=Q(struck_at__isnull=True, struck_by__isnull=True, struck_because="")
                | (Q(struck_at__isnull=False, struck_by__isnull=False) & ~Q(struck_because="")),
                name="conditioning_struck_because",
                violation_error_message="An entry is struck by somebody, with a reason.",
            ),
            models.UniqueConstraint(
                fields=["specimen"],
                condition=Q(out_at__isnull=True, struck_at__isnull=True),
                name="conditioning_one_open",
                violation_error_message="This specimen is already in a chamber.",
            ),
        ]

    def __str__(self) -> str:
        return f"conditioning entry {self.pk} of specimen {self.specimen.code}"

    def to_domain(self) -> Stay:
        """The stay; its chamber must have been read with it."""
        return Stay(self.pk, self.chamber.code, self.in_at, self.out_at)


class LoggedConditioning(models.Model):
    """That a test's conditioning hours came from the log, and what its file had claimed.

    `entry` is the last stay that counts and `since` the beginning of the first: those between belong to it too.
    """

    test = models.OneToOneField(BenchTest, on_delete=models.PROTECT, related_name="logged_conditioning")
    entry = models.ForeignKey(ConditioningEntry, on_delete=models.PROTECT, related_name="counted_for")
    since = models.DateTimeField()
    out_h = models.FloatField()
    claimed_h = models.FloatField()

    class Meta:
        verbose_name = "logged conditioning"

    def __str__(self) -> str:
        return f"conditioning of test {self.test_id} from entry {self.entry_id}"


class ClimateLogQuerySet(models.QuerySet["ClimateLog"]):
    def valid(self) -> ClimateLogQuerySet:
        """Logs that were not struck."""
        return self.filter(struck_at__isnull=True)


class ClimateLog(models.Model):
    """A logger's file of a chamber: seconds since 1970 (UTC), °C and % relative humidity, 8-byte floats.

    `content_sha256` is of what was read and not of the file, so that the same readings in another file are recognised.
    Humidity is empty where the file has none; single missing values are nan. `touched`: the numbers of the tests that
    were `held`, and of those approved before that are in `doubt`, when the file was imported.
    """

    chamber = models.ForeignKey(Chamber, on_delete=models.PROTECT, related_name="climate_logs")
    name = models.CharField(max_length=NAME_LENGTH)
    content_sha256 = models.CharField(max_length=64)
    time_zone = models.CharField(max_length=64)
    first_at = models.DateTimeField()
    last_at = models.DateTimeField()
    times = models.BinaryField()
    temperatures_c = models.BinaryField()
    humidities = models.BinaryField()
    touched = models.JSONField(default=dict, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    struck_because = models.TextField(blank=True)

    # Set by the service where the same readings were imported before; not a column.
    is_repeat: bool = False

    objects = ClimateLogQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["chamber", "-first_at", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["chamber", "content_sha256"],
                condition=Q(struck_at__isnull=True),
                name="climate_log_once",
                violation_error_message="These readings of the chamber are already on record.",
            ),
            models.CheckConstraint(
                condition=Q(last_at__gte=F("first_at")),
                name="climate_log_period",
                violation_error_message="A log ends when it begins or later.",
            ),
            models.CheckConstraint(
                condition=Q(struck_at__isnull=True, struck_by__isnull=True, struck_because="")
                | (Q(struck_at__isnull=False, struck_by__isnull=False) & ~Q(struck_because="")),
                name="climate_log_struck_because",
                violation_error_message="A log is struck by somebody, with a reason.",
            ),
        ]

    def __str__(self) -> str:
        return f"climate log {self.name} of chamber {self.chamber.code}"

    def to_domain(self) -> ClimateSeries:
        """The readings; the chamber must have been read with them."""
        times, temperatures, humidities = (
            np.frombuffer(bytes(column), POINTS) for column in (self.times, self.temperatures_c, self.humidities)
        )
        return ClimateSeries(self.chamber.code, times, temperatures, humidities)
