"""Versions of the rules of the need."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from core.models import printable


class NeedRules(models.Model):
    """One version of the rules, as data. A version is never edited; fittings name the one that was used."""

    version = models.CharField(max_length=20, unique=True, validators=[printable])
    data = models.JSONField(help_text="What `fittings.domain.rules_data` reads.")
    reason = models.TextField()
    is_current = models.BooleanField(default=False)
    created_at = models.DateTimeField()

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
        ]

    def __str__(self) -> str:
        return f"need rules {self.version}"
