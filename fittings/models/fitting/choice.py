"""The shoes that were chosen, and how a choice was taken back."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from catalogue.models import WIDTH_MAX_LENGTH, ScoreCard, Shoe
from core.models import User, printable
from fittings.models.fitting.fitting import Fitting, range_constraint, within


class ChoiceQuerySet(models.QuerySet["Choice"]):
    def visible_to(self, user: Any) -> ChoiceQuerySet:
        """Choices at fittings of the stores that the user works in."""
        return self.filter(fitting__store_id__in=user.store_ids())

    def uncorrected(self) -> ChoiceQuerySet:
        """Choices that were not taken back."""
        return self.filter(correction__isnull=True)

    def without_mistakes(self) -> ChoiceQuerySet:
        """Choices that were really made, also those exchanged or returned later: all but mistakes."""
        return self.exclude(correction__kind=CorrectionKind.MISTAKE)


class CorrectionKind(models.TextChoices):
    """Why a choice was taken back."""

    MISTAKE = "mistake", "recorded by mistake"
    EXCHANGE = "exchange", "exchanged"
    RETURN = "return", "returned"
    FAULT = "fault", "faulty"


class Choice(models.Model):
    """A shoe that was chosen, with its score as it was published then. It is never edited: a `Correction` ends it.

    A fitting has a choice for each `pair`, and a successor for each correction but a return without a new shoe.
    """

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="choices")
    pair = models.PositiveSmallIntegerField(
        default=1, db_default=1, help_text="1 for the pair that the fitting was for, then those chosen beside it."
    )
    replaces = models.OneToOneField(
        "self", on_delete=models.DO_NOTHING, null=True, blank=True, related_name="successor"
    )
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="+")
    score_card = models.ForeignKey(ScoreCard, on_delete=models.PROTECT, related_name="+")
    size_eu = models.DecimalField(max_digits=4, decimal_places=1)
    width = models.CharField(
        max_length=WIDTH_MAX_LENGTH,
        blank=True,
        default="",
        db_default="",
        validators=[printable],
        help_text="The width fitting, as the maker writes it; empty where it was not said.",
    )
    comfort = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("comfort"))
    reason = models.TextField(blank=True, max_length=500)
    stability = models.FloatField()
    in_target = models.BooleanField()
    probability = models.FloatField(null=True, blank=True)
    at = models.DateTimeField()

    objects = ChoiceQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["fitting", "pair"],
                condition=Q(replaces__isnull=True),
                name="choice_once_a_pair",
                violation_error_message="A shoe was chosen for this pair already.",
            ),
            models.CheckConstraint(
                condition=Q(in_target=True) | ~Q(reason=""),
                name="choice_outside_target_has_reason",
                violation_error_message="A choice outside the target needs a reason.",
            ),
            models.CheckConstraint(
                condition=Q(probability__isnull=True) | Q(probability__range=(0, 1)),
                name="choice_probability_range",
                violation_error_message="The probability must be from 0 to 1.",
            ),
            range_constraint("choice", "comfort"),
        ]

    def __str__(self) -> str:
        return f"choice of fitting {self.fitting_id}"


class Correction(models.Model):
    """That a choice was taken back, why and by whom. Its successor, where there is one, names the choice it replaces.

    A mistake is as if its successor had been chosen from the beginning; everything else ends the time with the shoe.
    """

    choice = models.OneToOneField(Choice, on_delete=models.PROTECT, related_name="correction")
    kind = models.CharField(max_length=8, choices=CorrectionKind.choices)
    note = models.TextField(max_length=500)
    restocked = models.BooleanField(help_text="The pair went back into sellable stock.")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["at", "pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(kind=CorrectionKind.FAULT, restocked=True),
                name="correction_faulty_is_not_sold",
                violation_error_message="A faulty pair does not go back into sellable stock.",
            ),
        ]

    def __str__(self) -> str:
        return f"correction of choice {self.choice_id}"
