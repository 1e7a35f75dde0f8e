"""Specimens: the shoes that are tested on the bench, and the receipts by which they came to the lab."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q

from core.models import printable
from labtests.models.rigs import code_shape


class Side(models.TextChoices):
    """Which foot a specimen is for."""

    LEFT = "left", "left"
    RIGHT = "right", "right"


class ReceiptSource(models.TextChoices):
    """How shoes came to the lab. Shoes sent by their maker may have been chosen."""

    SHOP = "shop", "bought in a shop"
    STOCK = "stock", "from a store of ours"
    MAKER = "maker", "sent by the maker"
    LOAN = "loan", "lent"
    OWN = "own", "made by the lab"


class Receipt(models.Model):
    """Shoes that came to the lab together: a pair of samples, or a check shoe."""

    source = models.CharField(max_length=10, choices=ReceiptSource.choices)
    supplier = models.CharField(max_length=120, blank=True, validators=[printable])
    batch = models.CharField(max_length=80, blank=True, validators=[printable])
    received_on = models.DateField()
    price = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    # ISO 4217.
    currency = models.CharField(
        max_length=3, blank=True, validators=[RegexValidator(r"\A[A-Z]{3}\Z", "Three capital letters, such as EUR.")]
    )
    received_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["-received_on", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(price__isnull=True, currency="") | (Q(price__gte=0) & ~Q(currency="")),
                name="receipt_price_with_currency",
                violation_error_message="A price is 0 or more and has its currency.",
            )
        ]

    def __str__(self) -> str:
        return f"receipt {self.pk} of {self.received_on}"


class SpecimenKind(models.TextChoices):
    """Whether a specimen is tested for its shoe or for the rig."""

    SAMPLE = "sample", "sample of the shoe"
    CHECK = "check", "check shoe"


class SpecimenQuerySet(models.QuerySet["Specimen"]):
    def present(self) -> SpecimenQuerySet:
        """Specimens that the lab still has."""
        return self.filter(disposed_on__isnull=True)


class Specimen(models.Model):
    """One shoe, left or right, in one size, that is tested on the bench.

    Tests of a check shoe show how its rig measures and never count for the shoe that it was made from. `receipt` is
    null for specimens that a bench file or the conditioning log named first; `place` is where it is outside the
    chambers.
    """

    code = models.CharField(max_length=64, unique=True, validators=[code_shape, printable])
    shoe = models.ForeignKey("catalogue.Shoe", on_delete=models.PROTECT, related_name="specimens")
    size_eu = models.DecimalField(max_digits=4, decimal_places=1)
    side = models.CharField(max_length=5, choices=Side.choices)
    kind = models.CharField(
        max_length=8, choices=SpecimenKind.choices, default=SpecimenKind.SAMPLE, db_default=SpecimenKind.SAMPLE
    )
    receipt = models.ForeignKey(Receipt, on_delete=models.PROTECT, null=True, blank=True, related_name="specimens")
    place = models.CharField(max_length=80, blank=True, default="", db_default="", validators=[printable])
    disposed_on = models.DateField(null=True, blank=True)
    disposed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    disposed_because = models.TextField(blank=True, default="", db_default="")

    objects = SpecimenQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["code"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(disposed_on__isnull=True, disposed_by__isnull=True, disposed_because="")
                | (Q(disposed_on__isnull=False, disposed_by__isnull=False) & ~Q(disposed_because="")),
                name="specimen_disposed_because",
                violation_error_message="A specimen is disposed of by somebody, on a day, with a reason.",
            ),
            models.CheckConstraint(
                condition=Q(size_eu__range=(15, 55)),
                name="specimen_size_range",
                violation_error_message="Sizes run from EU 15 to EU 55.",
            ),
        ]

    def __str__(self) -> str:
        return self.code
