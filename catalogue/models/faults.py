"""Faulty pairs that stores took back: what the lab learns of a shoe, without the person who wore it."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from catalogue.models.shoes import Shoe
from core.models import Store, User

WORDS_MAX_LENGTH = 500


class FaultReport(models.Model):
    """One faulty pair, in the store's words; `answer` says what the lab did about it."""

    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="fault_reports")
    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="fault_reports")
    size_eu = models.DecimalField(max_digits=4, decimal_places=1)
    words = models.TextField(max_length=WORDS_MAX_LENGTH)
    weeks_worn = models.PositiveSmallIntegerField()
    reported_at = models.DateTimeField()
    reported_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    answer = models.TextField(max_length=WORDS_MAX_LENGTH, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering: ClassVar = ["-reported_at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(answered_at__isnull=True, answered_by__isnull=True, answer="")
                | Q(answered_at__isnull=False, answered_by__isnull=False) & ~Q(answer=""),
                name="fault_report_answered_in_full",
                violation_error_message="Say what was done about the fault.",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["reported_at"], condition=Q(answered_at__isnull=True), name="fault_report_open"),
        ]

    def __str__(self) -> str:
        return f"fault report {self.pk}"
