"""Wall cards that were printed."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from catalogue.models.score_cards import ScoreCard
from catalogue.models.shoes import Shoe
from core.models import Store, User

CARDS_MOST = 200


class Paper(models.TextChoices):
    """What wall cards are printed on."""

    A4 = "a4", "A4 (210 × 297 mm)"
    LETTER = "letter", "Letter (8.5 × 11 in)"


class CardsPerSheet(models.IntegerChoices):
    """How many wall cards share a sheet."""

    ONE = 1, "1, the whole sheet"
    TWO = 2, "2, half a sheet each"
    FOUR = 4, "4, a quarter each"
    EIGHT = 8, "8, an eighth each"


class PrintRun(models.Model):
    """Wall cards that a store printed in one go. Its cards belong to it in the audit trail."""

    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="print_runs")
    paper = models.CharField(max_length=6, choices=Paper.choices, default=Paper.A4)
    cards_per_sheet = models.PositiveSmallIntegerField(choices=CardsPerSheet.choices, default=CardsPerSheet.FOUR)
    printed_at = models.DateTimeField()
    printed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    is_withdrawn = models.BooleanField(default=False, help_text="Not printed after all, or taken down.")

    class Meta:
        ordering: ClassVar = ["-printed_at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(cards_per_sheet__in=CardsPerSheet.values), name="print_run_cards_per_sheet"
            ),
        ]

    def __str__(self) -> str:
        return f"run {self.pk} of wall cards for {self.store.slug}"


class PrintedCard(models.Model):
    """One wall card of a run: which shoe, with which published scores on it."""

    run = models.ForeignKey(PrintRun, on_delete=models.PROTECT, related_name="cards")
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="+")
    score_card = models.ForeignKey(ScoreCard, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering: ClassVar = ["run", "position"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["run", "shoe"], name="printed_card_once_a_run")]

    def __str__(self) -> str:
        return f"{self.shoe.slug} in run {self.run_id}"
