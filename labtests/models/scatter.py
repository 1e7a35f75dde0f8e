"""How tests of a specimen and specimens of a shoe differ: sums of squares by shoe, and over the catalogue."""

from __future__ import annotations

from typing import ClassVar

import numpy as np
from django.contrib.postgres.fields import ArrayField
from django.db import models

from labtests.domain.uncertainty.components import Pool

SQUARES = 4
"""Of torque, deflection and work, and the product of torque and deflection (`domain.scores.reading_squares`)."""


class Level(models.TextChoices):
    """What differs within what."""

    TESTS = "tests", "tests of one specimen"
    SPECIMENS = "specimens", "specimens of one shoe"


class ShoeScatter(models.Model):
    """The sums of one shoe, worked out from its publishable tests when it was last published.

    `explained` is the part of the squares that lower levels explain. Worked out from tests and nothing else, so that
    the trail has no entries of it; it can be worked out again at any time.
    """

    shoe = models.OneToOneField("catalogue.Shoe", on_delete=models.CASCADE, related_name="+")
    tests_df = models.PositiveIntegerField()
    tests_squares = ArrayField(models.FloatField(), size=SQUARES)
    tests_explained = ArrayField(models.FloatField(), size=SQUARES)
    specimens_df = models.PositiveIntegerField()
    specimens_squares = ArrayField(models.FloatField(), size=SQUARES)
    specimens_explained = ArrayField(models.FloatField(), size=SQUARES)

    class Meta:
        ordering: ClassVar = ["shoe"]

    def __str__(self) -> str:
        return f"scatter of {self.shoe}"


class VariancePool(models.Model):
    """The sums over all shoes at one level as the next publication takes them; `at` is when they last changed."""

    level = models.CharField(max_length=10, choices=Level.choices, unique=True)
    shoes = models.PositiveIntegerField()
    df = models.PositiveIntegerField()
    squares = ArrayField(models.FloatField(), size=SQUARES)
    explained = ArrayField(models.FloatField(), size=SQUARES)
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-level"]

    def __str__(self) -> str:
        return str(Level(self.level).label)

    def to_domain(self) -> Pool:
        return Pool(self.shoes, self.df, np.array(self.squares), np.array(self.explained))
