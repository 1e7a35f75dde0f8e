"""That a store informed a customer of scores that were taken back."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from catalogue.models import IncidentNotice
from core.models import User
from fittings.models.fitting.choice import Choice


class NoticeTick(models.Model):
    """Whether the customer of one choice was informed of an incident, who ticked that, and when."""

    # The unique constraint's index begins with the choice.
    choice = models.ForeignKey(Choice, on_delete=models.PROTECT, related_name="notice_ticks", db_index=False)
    notice = models.ForeignKey(IncidentNotice, on_delete=models.PROTECT, related_name="+")
    is_informed = models.BooleanField()
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["choice", "notice"], name="notice_tick_once")]

    def __str__(self) -> str:
        return f"customer of choice {self.choice_id}, incident notice {self.notice_id}"
