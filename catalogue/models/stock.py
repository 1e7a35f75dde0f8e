"""What the stores hold."""

from __future__ import annotations

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from catalogue.models.shoes import Shoe
from catalogue.models.sizes import EU_SIZE_MAX, EU_SIZE_MIN
from core.models import Store


class StockItem(models.Model):
    """How many pairs of a size of a shoe a store has."""

    # No indexes of their own: the ones below begin with each of them.
    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="stock", db_index=False)
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="stock", db_index=False)
    size_eu = models.DecimalField(
        max_digits=4, decimal_places=1, validators=[MinValueValidator(EU_SIZE_MIN), MaxValueValidator(EU_SIZE_MAX)]
    )
    quantity = models.PositiveSmallIntegerField()
    # Repeats the shoe's current score card, set by triggers and by nobody else: a fitting asks for a store, a size and
    # a stretch of the scale at once, and one index answers that only where the three are together.
    stability = models.FloatField(null=True, editable=False)

    class Meta:
        ordering: ClassVar = ["store", "shoe", "size_eu"]
        indexes: ClassVar = [
            models.Index(
                fields=["store", "size_eu", "stability"],
                include=["shoe"],
                condition=Q(quantity__gt=0),
                name="stock_by_size_and_score",
            ),
            models.Index(fields=["shoe", "size_eu", "store"], include=["quantity"], name="stock_by_shoe"),
            models.Index(fields=["size_eu", "shoe"], condition=Q(quantity__gt=0), name="stock_item_size_there"),
        ]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["store", "size_eu", "shoe"],
                name="stock_item_once",
                violation_error_message="The store already has an entry for this shoe and size.",
            ),
            models.CheckConstraint(
                condition=Q(size_eu__range=(EU_SIZE_MIN, EU_SIZE_MAX)),
                name="stock_item_size_range",
                violation_error_message="Sizes run from EU 15 to EU 55.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.shoe.slug} EU {self.size_eu.normalize():f} at {self.store.slug}: {self.quantity}"


class StoreHolding(models.Model):
    """How many published shoes a store has in stock in at least one size. Triggers count."""

    store = models.OneToOneField(Store, on_delete=models.CASCADE, primary_key=True, related_name="holding")
    shoes = models.IntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.store_id}: {self.shoes}"


class ShoeHolding(models.Model):
    """How many stores have a shoe in stock in at least one size. Triggers count."""

    shoe = models.OneToOneField(Shoe, on_delete=models.CASCADE, primary_key=True, related_name="holding")
    stores = models.IntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.shoe_id}: {self.stores}"
