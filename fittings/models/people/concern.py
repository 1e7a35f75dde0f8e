"""Answers of follow-ups that somebody of the store looks after."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from core.models import User
from fittings.models.fitting.referral_rules import ReferralRules
from fittings.models.people.follow_up import FollowUp


class ConcernOutcome(models.TextChoices):
    """How looking after an answer ended."""

    ADVISED = "advised", "reached, and advised to see a clinician"
    IN_CARE = "in_care", "is seeing a clinician already"
    SETTLED = "settled", "reached, and it no longer hurts"
    NOT_REACHED = "not_reached", "not reached in spite of several attempts"


class AnswerConcernQuerySet(models.QuerySet["AnswerConcern"]):
    def visible_to(self, user: Any) -> AnswerConcernQuerySet:
        """Those of the stores that the user works in."""
        return self.filter(follow_up__fitting__store_id__in=user.store_ids())

    def unresolved(self) -> AnswerConcernQuerySet:
        return self.filter(closed_at__isnull=True)


class AnswerConcern(models.Model):
    """One worrying answer: why, who looks after it until when, and what was done."""

    follow_up = models.OneToOneField(FollowUp, on_delete=models.PROTECT, related_name="concern")
    rules = models.ForeignKey(ReferralRules, on_delete=models.PROTECT, related_name="+")
    advice = models.JSONField(help_text="The sentences that the customer was shown.")
    opened_at = models.DateTimeField()
    due_on = models.DateField()
    owner = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    stop_signs = ArrayField(models.CharField(max_length=30), default=list, blank=True)
    stop_signs_asked_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    outcome = models.CharField(max_length=12, choices=ConcernOutcome.choices, blank=True)
    note = models.TextField(max_length=1000, blank=True)

    objects = AnswerConcernQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["due_on", "pk"]
        indexes: ClassVar = [
            models.Index(fields=["due_on"], condition=Q(closed_at__isnull=True), name="answer_concern_open_by_day")
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True, closed_by__isnull=True, outcome="", note="")
                | Q(closed_at__isnull=False, closed_by__isnull=False) & ~Q(outcome="") & ~Q(note=""),
                name="answer_concern_closed_with_what_was_done",
                violation_error_message="An answer is closed by somebody, with an outcome and what was done.",
            ),
            models.CheckConstraint(
                condition=Q(stop_signs=[]) | Q(stop_signs_asked_at__isnull=False),
                name="answer_concern_stop_signs_were_asked",
                violation_error_message="Stop signs can only be there where they were asked about.",
            ),
        ]

    def __str__(self) -> str:
        return f"worrying answer {self.pk} of follow-up {self.follow_up_id}"
