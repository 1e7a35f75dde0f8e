"""The log of the conditioning chambers: which specimen lay where, from when to when."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from core.models import printable
from labtests.domain.scores.conditioning import Stay
from labtests.models.benchtests import BenchTest
from labtests.models.rigs import code_shape
from labtests.models.uploads import Specimen


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

    def lying(self) -> ConditioningEntryQuerySet:
        """Entries of specimens that lie in a chamber now."""
        return self.valid().filter(out_at__isnull=True)


class ConditioningEntry(models.Model):
    """One stay of a specimen in a chamber. Never edited: a wrong one is struck with a reason and written anew.

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
