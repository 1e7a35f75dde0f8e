"""Versions of the referral rules: when somebody is advised to see a clinician, and the practice's own stop signs."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from core.models import User, printable


class ReferralRules(models.Model):
    """One version, as data: a draft until somebody other than its author adopts it, and never edited."""

    version = models.CharField(max_length=20, unique=True, validators=[printable])
    data = models.JSONField(help_text="What `fittings.domain.fitting.referral_rules` reads.")
    reason = models.TextField(max_length=500)
    is_current = models.BooleanField(default=False)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    adopted_at = models.DateTimeField(null=True, blank=True)
    adopted_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering: ClassVar = ["-created_at"]
        verbose_name_plural = "referral rules"
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["is_current"],
                condition=Q(is_current=True),
                name="referral_rules_one_current",
                violation_error_message="One version of the referral rules is in use already.",
            ),
            models.CheckConstraint(
                condition=Q(is_current=False) | Q(adopted_at__isnull=False),
                name="referral_rules_current_was_adopted",
                violation_error_message="Referral rules are used only after they were adopted.",
            ),
            models.CheckConstraint(
                condition=Q(created_by__isnull=True) | Q(adopted_by__isnull=True) | ~Q(created_by=F("adopted_by")),
                name="referral_rules_two_people",
                violation_error_message="Somebody other than the author adopts referral rules.",
            ),
        ]

    def __str__(self) -> str:
        return f"referral rules {self.version}"
