"""Brands and shoes."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.contrib.postgres.indexes import GinIndex
from django.contrib.postgres.search import SearchVectorField
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from catalogue.models.sizes import EU_SIZE_MAX, EU_SIZE_MIN
from core.models import printable


class Brand(models.Model):
    """A maker of shoes."""

    slug = models.SlugField(unique=True)
    name = models.CharField(max_length=60, unique=True, validators=[printable])

    class Meta:
        ordering: ClassVar = ["name"]

    def __str__(self) -> str:
        return self.name


class Use(models.TextChoices):
    """What a shoe is made for."""

    RUNNING = "running", "running"
    WALKING = "walking", "walking"
    STANDING = "standing", "standing work"


USES = tuple(Use.values)
"""What shoes are made for, in the order in which it is shown; columns in memory hold the place in it."""


class Wearer(models.TextChoices):
    """Whom a shoe's sizes and lasts are made for."""

    ALL = "all", "men and women"
    MEN = "men", "men"
    WOMEN = "women", "women"
    CHILDREN = "children", "children"


WEARERS = tuple(Wearer.values)
"""For whom shoes are made, in the order in which it is shown; columns in memory hold the place in it."""

EU_SIZES = [MinValueValidator(EU_SIZE_MIN), MaxValueValidator(EU_SIZE_MAX)]
WIDTH_MAX_LENGTH = 12


class ShoeQuerySet(models.QuerySet["Shoe"]):
    def published(self) -> ShoeQuerySet:
        """Shoes with a current score card."""
        return self.filter(score_cards__is_current=True)

    def withdrawn(self) -> ShoeQuerySet:
        """Shoes that were published once and then withdrawn, and have not been published again."""
        itself = Shoe.objects.filter(pk=OuterRef("pk"))
        return self.filter(Exists(itself.filter(score_cards__withdrawn_at__isnull=False)), ~Exists(itself.published()))


class Shoe(models.Model):
    """One version of a model of shoe."""

    slug = models.SlugField(max_length=80, unique=True)
    brand = models.ForeignKey(Brand, on_delete=models.PROTECT, related_name="shoes")
    name = models.CharField(max_length=80, validators=[printable])
    version = models.CharField(max_length=20, blank=True, validators=[printable])
    use = models.CharField(max_length=10, choices=Use.choices, default=Use.RUNNING)
    mass_g = models.FloatField(null=True, blank=True, validators=[MinValueValidator(20), MaxValueValidator(2000)])
    stack_heel_mm = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(120)])
    stack_forefoot_mm = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(120)]
    )
    drop_mm = models.GeneratedField(
        expression=F("stack_heel_mm") - F("stack_forefoot_mm"), output_field=models.FloatField(), db_persist=True
    )
    previous = models.OneToOneField("self", on_delete=models.SET_NULL, null=True, blank=True, related_name="next")
    is_discontinued = models.BooleanField(default=False)
    wearer = models.CharField(max_length=8, choices=Wearer.choices, default=Wearer.ALL, db_default=Wearer.ALL)
    widths = ArrayField(
        models.CharField(max_length=WIDTH_MAX_LENGTH, validators=[printable]), default=list, db_default=[], blank=True
    )
    smallest_size_eu = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True, validators=EU_SIZES)
    largest_size_eu = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True, validators=EU_SIZES)
    stated_size_eu = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=EU_SIZES,
        help_text="The size that the stated mass and stack heights hold for.",
    )
    removable_insole = models.BooleanField(null=True, blank=True, help_text="Empty where it is not known.")
    season = models.CharField(max_length=30, blank=True, default="", db_default="", validators=[printable])
    # Amounts as decimal text by ISO 4217 code, {"EUR": "149.90"}: a number in JSON would not stay exact.
    list_prices = models.JSONField(default=dict, db_default={}, blank=True)
    note = models.TextField(
        blank=True, default="", db_default="", max_length=2000, help_text="For our own staff; visitors do not see it."
    )
    alternative_names = ArrayField(
        models.CharField(max_length=80, validators=[printable]), default=list, db_default=[], blank=True
    )
    merged_into = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="duplicates", db_index=False
    )

    objects = ShoeQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["brand__name", "name", "version"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["brand", "name", "version"],
                name="shoe_once",
                violation_error_message="This brand already has a shoe of this name and version.",
            ),
            models.CheckConstraint(
                condition=Q(mass_g__isnull=True) | Q(mass_g__gt=0),
                name="shoe_mass_positive",
                violation_error_message="The mass must be more than 0 g.",
            ),
            models.CheckConstraint(
                condition=~Q(previous=F("id")),
                name="shoe_not_its_own_previous",
                violation_error_message="A shoe can’t be its own previous version.",
            ),
            models.CheckConstraint(
                condition=Q(smallest_size_eu__isnull=True)
                | Q(largest_size_eu__isnull=True)
                | Q(smallest_size_eu__lte=F("largest_size_eu")),
                name="shoe_sizes_in_order",
                violation_error_message="The smallest size must not be above the largest.",
            ),
            models.CheckConstraint(
                condition=~Q(merged_into=F("id")),
                name="shoe_not_merged_into_itself",
                violation_error_message="A shoe can’t be merged into itself.",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["merged_into"], condition=Q(merged_into__isnull=False), name="shoe_merged_into"),
        ]

    def __str__(self) -> str:
        return f"{self.slug}"

    @property
    def title(self) -> str:
        """The name with its version, without the brand."""
        return f"{self.name} {self.version}".strip()


class ShoeBarcode(models.Model):
    """The GTIN of one size and width of a shoe, written with 14 digits (GS1: shorter ones have zeros in front)."""

    shoe = models.ForeignKey(Shoe, on_delete=models.CASCADE, related_name="barcodes")
    gtin = models.CharField(max_length=14, unique=True, validators=[RegexValidator(r"^[0-9]{14}$")])
    size_eu = models.DecimalField(max_digits=4, decimal_places=1, validators=EU_SIZES)
    width = models.CharField(max_length=WIDTH_MAX_LENGTH, blank=True, validators=[printable])

    class Meta:
        ordering: ClassVar = ["size_eu", "width", "gtin"]

    def __str__(self) -> str:
        return self.gtin


class ShoeAddress(models.Model):
    """An address that a shoe had before; whoever asks for it is led to the shoe."""

    shoe = models.ForeignKey(Shoe, on_delete=models.CASCADE, related_name="old_addresses")
    slug = models.SlugField(max_length=80, unique=True)

    class Meta:
        verbose_name_plural = "shoe addresses"
        ordering: ClassVar = ["slug"]

    def __str__(self) -> str:
        return self.slug


class ShoeSearch(models.Model):
    """The words of a shoe's brand, names and version, to search in. Triggers write it; nothing is said here first."""

    shoe = models.OneToOneField(Shoe, on_delete=models.CASCADE, primary_key=True, related_name="search")
    document = SearchVectorField()

    class Meta:
        indexes: ClassVar = [GinIndex(fields=["document"], name="shoe_search_document")]

    def __str__(self) -> str:
        return f"{self.document}"
