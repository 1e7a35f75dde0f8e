"""Letters to a clinician, and what the clinician answered."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from core.models import User, printable
from fittings.domain.fitting.clinician_wishes import WISHES
from fittings.models.fitting.fitting import Fitting


class OfFittingQuerySet(models.QuerySet[Any]):
    def visible_to(self, user: Any) -> OfFittingQuerySet:
        """Rows of the stores that the user works in."""
        return self.filter(fitting__store_id__in=user.store_ids())


class ReferralLetter(models.Model):
    """A letter that a customer takes to a clinician. What was seen, measured and advised is read from the fitting."""

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="letters")
    addressee = models.CharField(max_length=120, blank=True, validators=[printable])
    remark = models.TextField(max_length=1000, blank=True)
    written_at = models.DateTimeField()
    written_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    submission = models.UUIDField(null=True, blank=True, unique=True, help_text="Given by the form; twice is once.")

    objects = OfFittingQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["written_at", "pk"]

    def __str__(self) -> str:
        return f"letter {self.pk} to a clinician for fitting {self.fitting_id}"


class ClinicianReply(models.Model):
    """What a clinician asks for. The newest reply of a fitting comes before the rules."""

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="replies")
    clinician = models.CharField(max_length=120, validators=[printable])
    received_on = models.DateField()
    wishes = ArrayField(models.CharField(max_length=12, choices=list(WISHES.items())))
    note = models.TextField(max_length=1000, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    submission = models.UUIDField(null=True, blank=True, unique=True, help_text="Given by the form; twice is once.")

    objects = OfFittingQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["received_on", "pk"]
        verbose_name_plural = "clinicians’ replies"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(wishes=[]),
                name="clinician_reply_has_wishes",
                violation_error_message="A reply says what the clinician asks for, or that it is no particular shoe.",
            ),
        ]

    def __str__(self) -> str:
        return f"clinician’s reply {self.pk} for fitting {self.fitting_id}"
