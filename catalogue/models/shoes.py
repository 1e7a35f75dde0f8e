"""Brands and shoes."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.postgres.indexes import GinIndex
from django.contrib.postgres.search import SearchVectorField
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Exists, F, OuterRef, Q

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
                violation_error_message="A shoe can't be its own previous version.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.slug}"

    @property
    def title(self) -> str:
        """The name with its version, without the brand."""
        return f"{self.name} {self.version}".strip()


class ShoeSearch(models.Model):
    """The words of a shoe's brand, name and version, to search in. Triggers write it; nothing is said here first."""

    shoe = models.OneToOneField(Shoe, on_delete=models.CASCADE, primary_key=True, related_name="search")
    document = SearchVectorField()

    class Meta:
        indexes: ClassVar = [GinIndex(fields=["document"], name="shoe_search_document")]

    def __str__(self) -> str:
        return f"{self.document}"
