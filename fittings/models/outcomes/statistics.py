"""Exports for statisticians: that one was made, by whom, why, and how much was in it."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from core.models import User, printable


class StatisticsExport(models.Model):
    """One export. The rows themselves are not stored; the hash shows whether a file is the one that was handed out."""

    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=500, validators=[printable])
    until = models.DateField(help_text="The first day of choices that are not in it.")
    people = models.PositiveIntegerField()
    suppressed = models.PositiveIntegerField(help_text="People left out because too few others are like them.")
    sha256 = models.CharField(max_length=64, help_text="Of the rows as CSV.")

    class Meta:
        ordering: ClassVar = ["-made_at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~models.Q(reason=""),
                name="statistics_export_has_reason",
                violation_error_message="An export needs a reason.",
            ),
        ]

    def __str__(self) -> str:
        return f"export {self.pk} for statistics"
