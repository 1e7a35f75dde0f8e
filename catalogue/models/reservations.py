"""Pairs set aside for a customer."""

from __future__ import annotations

import datetime as dt
from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from catalogue.models.shoes import EU_SIZES, WIDTH_MAX_LENGTH, Shoe
from core.models import Store, User, printable


class ReservationQuerySet(models.QuerySet["Reservation"]):
    def open(self, on: dt.date) -> ReservationQuerySet:
        """Reservations that hold pairs on a day."""
        return self.filter(closed_at__isnull=True, until__gte=on)


class Reservation(models.Model):
    """Pairs set aside for a customer for some days. The note may name the customer, so row security covers the table.

    The note is never in the audit trail and is removed when the reservation ends.
    """

    class Outcome(models.TextChoices):
        COLLECTED = "collected", "collected"
        RELEASED = "released", "released"

    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="reservations", db_index=False)
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="+")
    size_eu = models.DecimalField(max_digits=4, decimal_places=1, validators=EU_SIZES)
    width = models.CharField(max_length=WIDTH_MAX_LENGTH, blank=True, default="")
    quantity = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(9)])
    note = models.CharField(max_length=40, blank=True, validators=[printable])
    until = models.DateField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    outcome = models.CharField(max_length=10, choices=Outcome.choices, blank=True)

    objects = ReservationQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["until", "pk"]
        indexes: ClassVar = [
            models.Index(
                fields=["store", "shoe", "size_eu"],
                condition=Q(closed_at__isnull=True),
                name="reservation_open_by_size",
            ),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(condition=Q(quantity__gte=1), name="reservation_of_pairs"),
        ]

    def __str__(self) -> str:
        return f"reservation {self.pk} at {self.store}"
