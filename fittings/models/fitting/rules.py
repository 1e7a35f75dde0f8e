"""Versions of the rules of the need."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from core.models import User, printable


class NeedRules(models.Model):
    """One version of the rules, as data: a draft until it is adopted, never edited, named by the fittings it served.

    The rules of the match go with those of the need.
    """

    version = models.CharField(max_length=20, unique=True, validators=[printable])
    data = models.JSONField(help_text="What `fittings.domain.fitting.rules_data` reads.")
    match = models.JSONField(default=dict, blank=True, help_text="What `match_from_data` reads; empty is `M1`.")
    reason = models.TextField(max_length=500)
    is_current = models.BooleanField(default=False)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    adopted_at = models.DateTimeField(null=True, blank=True)
    adopted_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering: ClassVar = ["-created_at"]
        verbose_name_plural = "need rules"
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["is_current"],
                condition=Q(is_current=True),
                name="need_rules_one_current",
                violation_error_message="One version of the rules is current already.",
            ),
            models.CheckConstraint(
                condition=Q(is_current=False) | Q(adopted_at__isnull=False),
                name="need_rules_current_was_adopted",
                violation_error_message="Rules are used only after they were adopted.",
            ),
        ]

    def __str__(self) -> str:
        return f"need rules {self.version}"
