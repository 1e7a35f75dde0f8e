"""Published scores."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from catalogue.models.scales import Band, Scale
from catalogue.models.shoes import Shoe
from core.models import User


class ScoreCard(models.Model):
    """The published scores of a shoe. A new publication makes a new card; the old ones stay readable."""

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
        ]
        indexes: ClassVar = [
            models.Index(fields=["stability"], condition=Q(is_current=True), name="score_card_current_stability"),
        ]

    def __str__(self) -> str:
        return f"{self.shoe.slug} by {self.scoring_model}"
