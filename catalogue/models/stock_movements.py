"""How stock changes: movements, transfers between our own stores."""

from __future__ import annotations

from typing import ClassVar

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from catalogue.models.shoes import EU_SIZES, WIDTH_MAX_LENGTH, Shoe
from core.models import Store, User


class MovementKind(models.TextChoices):
    """Why the number of pairs changed."""

    COUNTED = "counted", "counted"
    RECEIVED = "received", "received"
    SOLD = "sold", "sold"
    RETURNED = "returned", "returned by a customer"
    WRITTEN_OFF = "written_off", "written off"
    SENT = "sent", "sent to another store"
    ARRIVED = "arrived", "arrived from another store"
    CALLED_BACK = "called_back", "transfer called back"


class StockTransfer(models.Model):
    """Pairs on the way from one of our stores to another. Between sending and receiving they are in neither stock."""

    class State(models.TextChoices):
        SENT = "sent", "on the way"
        RECEIVED = "received", "received"
        CALLED_BACK = "called_back", "called back"

    from_store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="transfers_out")
    to_store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="transfers_in")
    state = models.CharField(max_length=12, choices=State.choices, default=State.SENT)
    sent_at = models.DateTimeField()
    sent_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering: ClassVar = ["-sent_at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(from_store=F("to_store")),
                name="transfer_between_two_stores",
                violation_error_message="Choose another store than the one that sends.",
            ),
        ]

    def __str__(self) -> str:
        return f"transfer {self.pk} from {self.from_store} to {self.to_store}"


class TransferLine(models.Model):
    """The pairs of one size and width in a transfer; `received` is empty until somebody counts them on arrival."""

    transfer = models.ForeignKey(StockTransfer, on_delete=models.CASCADE, related_name="lines")
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="+")
    size_eu = models.DecimalField(max_digits=4, decimal_places=1, validators=EU_SIZES)
    width = models.CharField(max_length=WIDTH_MAX_LENGTH, blank=True, default="")
    quantity = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])
    received = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["transfer", "shoe", "size_eu", "width"], name="transfer_line_once"),
            models.CheckConstraint(
                condition=Q(received__isnull=True) | Q(received__lte=F("quantity")),
                name="transfer_line_received_at_most_sent",
                violation_error_message="No more pairs can arrive than were sent.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.shoe_id} EU {self.size_eu}: {self.quantity}"


class StockMovement(models.Model):
    """One change of the pairs of one size in a store. Written with the change of the stock line.

    Never edited, but that the movements of a duplicate go to the shoe that it is merged into.
    """

    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="+", db_index=False)
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="+")
    size_eu = models.DecimalField(max_digits=4, decimal_places=1)
    width = models.CharField(max_length=WIDTH_MAX_LENGTH, blank=True)
    kind = models.CharField(max_length=12, choices=MovementKind.choices)
    change = models.SmallIntegerField(help_text="Pairs added; negative for pairs taken away.")
    pairs_after = models.PositiveSmallIntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+", db_index=False)
    transfer = models.ForeignKey(StockTransfer, on_delete=models.PROTECT, null=True, related_name="movements")

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]
        indexes: ClassVar = [models.Index(fields=["store", "-at"], name="movement_by_store_and_time")]

    def __str__(self) -> str:
        return f"{self.kind} {self.change:+} at {self.store_id}"
