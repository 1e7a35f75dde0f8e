"""What the stores are informed of when published scores turn out to be wrong."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from catalogue.models.score_cards import ScoreCard
from core.models import User


class IncidentNotice(models.Model):
    """Scores that rested on tests that were taken back, and why. Each store works out from it whom to inform."""

    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"incident notice {self.pk}"


class NoticeCard(models.Model):
    """A score card that rests on a test that was taken back."""

    # The unique constraint's index begins with the notice.
    notice = models.ForeignKey(IncidentNotice, on_delete=models.PROTECT, related_name="cards", db_index=False)
    score_card = models.ForeignKey(ScoreCard, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["notice", "pk"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["notice", "score_card"], name="notice_card_once")]

    def __str__(self) -> str:
        return f"score card {self.score_card_id} in incident notice {self.notice_id}"
