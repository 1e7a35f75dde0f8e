"""Published scores."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from catalogue.models.scales import Band, Scale
from catalogue.models.shoes import Shoe
from core.models import User


class ScoreCardQuerySet(models.QuerySet["ScoreCard"]):
    def withdrawn(self) -> ScoreCardQuerySet:
        """Cards that were taken out of the catalogue without a successor, the latest first."""
        return self.filter(withdrawn_at__isnull=False).order_by("-withdrawn_at", "-pk")


class ScoreCard(models.Model):
    """The published scores of a shoe. A new publication makes a new card; the old ones stay readable.

    A card that ends without a successor is withdrawn: `withdrawn_at` says when and `withdrawn_because` why, in words
    for the public. `Shoe.objects.withdrawn()` are the shoes that have such a card and no current one.
    """

    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="score_cards")
    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, related_name="+")
    band = models.ForeignKey(Band, on_delete=models.PROTECT, related_name="+")
    stability = models.FloatField()
    midfoot = models.FloatField()
    rearfoot = models.FloatField()
    cushioning = models.FloatField()
    # Standard uncertainties; null where they are not known.
    stability_u = models.FloatField(null=True, blank=True)
    midfoot_u = models.FloatField(null=True, blank=True)
    rearfoot_u = models.FloatField(null=True, blank=True)
    cushioning_u = models.FloatField(null=True, blank=True)
    # Their effective degrees of freedom, not cut off to whole numbers; null where unlimited.
    stability_df = models.FloatField(null=True, blank=True)
    midfoot_df = models.FloatField(null=True, blank=True)
    rearfoot_df = models.FloatField(null=True, blank=True)
    cushioning_df = models.FloatField(null=True, blank=True)
    cushioning_estimated = models.BooleanField(default=False)
    band_probability = models.FloatField(null=True, blank=True)
    is_borderline = models.BooleanField(default=False)
    neighbour = models.ForeignKey(Band, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    is_provisional = models.BooleanField(default=False)
    specimens = models.PositiveSmallIntegerField()
    tested_on = models.DateField()
    scoring_model = models.CharField(max_length=20)
    protocol = models.CharField(max_length=20)
    is_current = models.BooleanField(default=True)
    published_at = models.DateTimeField()
    published_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_because = models.TextField(blank=True, default="", db_default="")

    objects = ScoreCardQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-published_at"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["shoe"],
                condition=Q(is_current=True),
                name="score_card_one_current",
                violation_error_message="The shoe already has a current score card.",
            ),
            models.CheckConstraint(condition=Q(specimens__gte=1), name="score_card_of_specimens"),
            models.CheckConstraint(
                condition=Q(band_probability__isnull=True) | Q(band_probability__range=(0, 1)),
                name="score_card_probability_range",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True) | (Q(is_current=False) & ~Q(withdrawn_because="")),
                name="score_card_withdrawn_because",
                violation_error_message="A withdrawn score card needs a reason and is not current.",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["stability"], condition=Q(is_current=True), name="score_card_current_stability"),
            models.Index(fields=["shoe"], condition=Q(withdrawn_at__isnull=False), name="score_card_withdrawn"),
        ]

    def __str__(self) -> str:
        return f"{self.shoe.slug} by {self.scoring_model}"
