"""The practice's own outcomes as they are published: figures as they were decided on, by whom, and until when."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from core.models import User, printable

REASON_MAX_LENGTH = 300


class ReleaseState(models.TextChoices):
    """Where a release is between proposal and withdrawal."""

    PROPOSED = "proposed", "proposed"
    PUBLISHED = "published", "published"
    REPLACED = "replaced", "replaced by a later one"
    WITHDRAWN = "withdrawn", "withdrawn"


class EvidenceRelease(models.Model):
    """Outcomes of all stores for the public page. `figures` are the words as published, with noise.

    The second person confirms exactly what the public will read, and nothing changes afterwards.
    """

    figures = models.JSONField()
    until = models.DateField(help_text="The first day of choices that are not in it.")
    reason = models.CharField(max_length=REASON_MAX_LENGTH, validators=[printable])
    state = models.CharField(max_length=9, choices=ReleaseState.choices, default=ReleaseState.PROPOSED)
    proposed_at = models.DateTimeField()
    proposed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering: ClassVar = ["-proposed_at", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["state"],
                condition=Q(state__in=["proposed", "published"]),
                name="evidence_release_one_a_state",
                violation_error_message="There is one already.",
            ),
            models.CheckConstraint(
                condition=Q(confirmed_by__isnull=True) | ~Q(confirmed_by=F("proposed_by")),
                name="evidence_release_two_people",
                violation_error_message="Somebody other than the person who proposed it confirms it.",
            ),
            models.CheckConstraint(
                condition=Q(state="proposed", confirmed_by__isnull=True, ended_at__isnull=True)
                | Q(state="published", confirmed_by__isnull=False, confirmed_at__isnull=False, ended_at__isnull=True)
                | Q(state="replaced", confirmed_by__isnull=False, ended_at__isnull=False)
                | Q(state="withdrawn", ended_by__isnull=False, ended_at__isnull=False),
                name="evidence_release_state_in_full",
                violation_error_message="Each state of a release needs who and when.",
            ),
        ]

    def __str__(self) -> str:
        return f"outcomes up to {self.until:%Y-%m-%d} for the public page"
