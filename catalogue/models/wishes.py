"""Shoes that a store asks the lab for."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from catalogue.models.shoes import Shoe
from core.models import Store, User, printable

REASON_MAX_LENGTH = 300
NOTE_MAX_LENGTH = 500


class WishState(models.TextChoices):
    """What became of a wish."""

    OPEN = "open", "open"
    DONE = "done", "in the catalogue"
    DECLINED = "declined", "declined"


class ShoeWish(models.Model):
    """A shoe that a store asks for because it is not in the catalogue, in the store's own words."""

    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="shoe_wishes")
    brand = models.CharField(max_length=60, validators=[printable])
    name = models.CharField(max_length=80, validators=[printable])
    note = models.TextField(max_length=NOTE_MAX_LENGTH, blank=True)
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    state = models.CharField(max_length=8, choices=WishState.choices, default=WishState.OPEN)
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, null=True, blank=True, related_name="wishes")
    reason = models.CharField(max_length=REASON_MAX_LENGTH, blank=True, validators=[printable])
    decided_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-asked_at", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                "store",
                Lower("brand"),
                Lower("name"),
                condition=Q(state="open"),
                name="shoe_wish_open_once",
                violation_error_message="The store already asks for this shoe.",
            ),
            models.CheckConstraint(
                condition=Q(state="open", shoe__isnull=True, decided_at__isnull=True, decided_by__isnull=True)
                | Q(state="done", shoe__isnull=False, decided_at__isnull=False, decided_by__isnull=False)
                | (
                    Q(state="declined", shoe__isnull=True, decided_at__isnull=False, decided_by__isnull=False)
                    & ~Q(reason="")
                ),
                name="shoe_wish_decided_in_full",
                violation_error_message="A wish is open, done with a shoe, or declined with a reason.",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["asked_at"], condition=Q(state="open"), name="shoe_wish_open"),
        ]

    def __str__(self) -> str:
        return f"{self.brand} {self.name}"
