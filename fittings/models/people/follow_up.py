"""Follow-ups: when they are due, what was answered, and whether a complaint came back."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Exists, OuterRef, Q

from core.models import User
from fittings.models.fitting.choice import Choice
from fittings.models.fitting.fitting import REGION_CHOICES, SIDE_CHOICES, Fitting, range_constraint, within

WEEKS: tuple[int, ...] = (2, 6, 12, 26, 52)
"""When follow-ups are due, in weeks after the choice."""

UNSCHEDULED = 0
"""Stands for the weeks of a contact outside the schedule: somebody called, or came by."""

COMMENT_MAX = 1000

REMINDERS_MAX = 2
"""E-mails for one follow-up, at most."""


class RecurrenceKind(models.TextChoices):
    """How soon a complaint came back; empty where none did."""

    NONE = "", "none"
    EARLY = "early", "early"
    LATE = "late", "late"
    DELAYED = "delayed", "delayed"


class FollowUpQuerySet(models.QuerySet["FollowUp"]):
    def visible_to(self, user: Any) -> FollowUpQuerySet:
        """Follow-ups of the stores that the user works in."""
        return self.filter(fitting__store_id__in=user.store_ids())

    def due(self, on: dt.date) -> FollowUpQuerySet:
        """Follow-ups to be answered by a day and still open: of each pair the newest, what was missed has lapsed."""
        newer = FollowUp.objects.scheduled().filter(
            fitting=OuterRef("fitting"), pair=OuterRef("pair"), due_on__lte=on, due_on__gt=OuterRef("due_on")
        )
        return self.filter(~Exists(newer), answered_at__isnull=True, closed_at__isnull=True, due_on__lte=on)

    def scheduled(self) -> FollowUpQuerySet:
        """Follow-ups that are asked for, without contacts outside the schedule."""
        return self.exclude(weeks=UNSCHEDULED)

    def with_lapsed(self, on: dt.date) -> FollowUpQuerySet:
        """Say of each (`lapsed`) whether nobody asks for it any more, because a later one of the fitting is due."""
        later = FollowUp.objects.filter(fitting=OuterRef("fitting"), due_on__lte=on, due_on__gt=OuterRef("due_on"))
        return self.annotate(lapsed=Exists(later))

    def answered(self) -> FollowUpQuerySet:
        return self.filter(answered_at__isnull=False)

    def to_remind(self, before: dt.datetime) -> FollowUpQuerySet:
        """Those that no e-mail went out for yet, or one before a moment; of several pairs of a day the first."""
        together = FollowUp.objects.filter(
            fitting=OuterRef("fitting"),
            due_on=OuterRef("due_on"),
            pair__lt=OuterRef("pair"),
            answered_at__isnull=True,
            closed_at__isnull=True,
        )
        return self.filter(~Exists(together)).filter(
            Q(sent_at__isnull=True) | Q(sent_at__lte=before, reminders__lt=REMINDERS_MAX)
        )


class FollowUp(models.Model):
    """One follow-up of a pair of shoes, answered once, or a contact outside the schedule, answered when it is made.

    Wrong answers are amended; what they were before is in `SupersededAnswer`.
    """

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="follow_ups")
    pair = models.PositiveSmallIntegerField(default=1, db_default=1)
    choice = models.ForeignKey(
        Choice,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="follow_ups",
        help_text="The shoe that it is about; null where only one was ever chosen.",
    )
    weeks = models.PositiveSmallIntegerField(
        choices=[(UNSCHEDULED, "outside the schedule"), *((weeks, f"{weeks} weeks") for weeks in WEEKS)]
    )
    due_on = models.DateField()
    sent_at = models.DateTimeField(null=True, blank=True)
    reminders = models.PositiveSmallIntegerField(default=0, help_text="E-mails sent, the last of them at sent_at.")
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    closed_at = models.DateTimeField(
        null=True, blank=True, help_text="No longer asked for, because the pair was returned."
    )

    wearing = models.BooleanField(null=True, blank=True)
    distance_km_week = models.FloatField(null=True, blank=True, validators=within("distance_km_week"))
    comfort = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("comfort"))
    overuse = ArrayField(models.PositiveSmallIntegerField(), size=4, null=True, blank=True)
    overuse_total = models.PositiveSmallIntegerField(null=True, blank=True)
    overuse_substantial = models.BooleanField(null=True, blank=True)
    days_off = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("days_off"))
    recurrence = models.CharField(max_length=7, choices=RecurrenceKind.choices, blank=True)
    recurrence_reasoning = models.TextField(blank=True)
    nothing_hurts = models.BooleanField(
        null=True, blank=True, help_text="True: nothing hurts. False: something does. Null: pain was not answered."
    )
    free_of_complaints = models.BooleanField(
        null=True,
        blank=True,
        help_text="Free of every complaint recorded at the fitting; null where the answers do not say.",
    )
    comment = models.TextField(blank=True, default="", db_default="", max_length=COMMENT_MAX)
    saw_clinician = models.BooleanField(null=True, blank=True, help_text="Null: not said.")

    objects = FollowUpQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["due_on", "pk"]
        indexes: ClassVar = [
            models.Index(fields=["due_on"], condition=Q(answered_at__isnull=True), name="follow_up_open_by_day")
        ]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["fitting", "pair", "weeks"],
                condition=~Q(weeks=UNSCHEDULED),
                name="follow_up_once_a_pair_and_date",
                violation_error_message="This follow-up was made already.",
            ),
            models.CheckConstraint(
                condition=Q(answered_at__isnull=False)
                | Q(
                    answered_by__isnull=True,
                    wearing__isnull=True,
                    distance_km_week__isnull=True,
                    comfort__isnull=True,
                    overuse__isnull=True,
                    overuse_total__isnull=True,
                    days_off__isnull=True,
                    nothing_hurts__isnull=True,
                    free_of_complaints__isnull=True,
                    recurrence="",
                    comment="",
                    saw_clinician__isnull=True,
                ),
                name="follow_up_nothing_before_answer",
                violation_error_message="A follow-up that was not answered holds no answers.",
            ),
            models.CheckConstraint(
                condition=Q(reminders__lte=REMINDERS_MAX),
                name="follow_up_reminded_at_most_twice",
                violation_error_message="A follow-up is reminded of at most twice.",
            ),
            range_constraint("follow_up", "distance_km_week"),
            range_constraint("follow_up", "comfort"),
            range_constraint("follow_up", "overuse_total"),
            range_constraint("follow_up", "days_off"),
        ]

    def __str__(self) -> str:
        return f"follow-up {self.pk} of fitting {self.fitting_id}"


class PainReport(models.Model):
    """Where it hurts at a follow-up, and how much (0 to 10)."""

    follow_up = models.ForeignKey(FollowUp, on_delete=models.PROTECT, related_name="pains")
    region = models.CharField(max_length=20, choices=REGION_CHOICES)
    side = models.CharField(max_length=5, choices=SIDE_CHOICES, blank=True)
    score = models.PositiveSmallIntegerField(validators=within("pain_now"))

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [range_constraint("pain_report", "score", "pain_now")]

    def __str__(self) -> str:
        return f"pain report {self.pk} of follow-up {self.follow_up_id}"


class SupersededAnswer(models.Model):
    """Answers of a follow-up that were wrong and were amended. They count nowhere."""

    follow_up = models.ForeignKey(FollowUp, on_delete=models.PROTECT, related_name="superseded")
    answers = models.JSONField(help_text="The columns of the answers, and the places of pain with their scores.")
    answered_at = models.DateTimeField()
    answered_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    superseded_at = models.DateTimeField()
    superseded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField(max_length=500)

    class Meta:
        ordering: ClassVar = ["superseded_at", "pk"]

    def __str__(self) -> str:
        return f"amended answers of follow-up {self.follow_up_id}"
