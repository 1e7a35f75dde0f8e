"""Tries to reach a customer for a follow-up."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from core.models import User
from fittings.models.people.follow_up import FollowUp


class TryKind(models.TextChoices):
    """How a try ended. What was answered is kept with the follow-up itself."""

    MAILED = "mailed", "e-mail sent"
    REFUSED = "refused", "e-mail refused by the mail server"
    BOUNCED = "bounced", "e-mail came back"
    NOT_REACHED = "not_reached", "not reached by telephone"


class ContactTry(models.Model):
    """One try: when, by whom (nobody for the mailing itself), and how it ended."""

    follow_up = models.ForeignKey(FollowUp, on_delete=models.PROTECT, related_name="tries")
    kind = models.CharField(max_length=12, choices=TryKind.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    submission = models.UUIDField(null=True, blank=True, unique=True, help_text="Given by the form; twice is once.")

    class Meta:
        ordering: ClassVar = ["at", "pk"]
        verbose_name_plural = "contact tries"

    def __str__(self) -> str:
        return f"try {self.pk} of follow-up {self.follow_up_id}"
