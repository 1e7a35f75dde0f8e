"""What stays of people who were removed: counts in which nobody can be found."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from core.models import Store


class RemovedCount(models.Model):
    """How many of the people who withdrew their consent had been counted in one cell of the outcomes.

    Somebody is added only where the cell held at least five people at that moment, themselves included; in a smaller
    one the number would point at them.
    """

    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="+")
    year = models.PositiveSmallIntegerField()
    in_target = models.BooleanField()
    recurred = models.BooleanField()
    people = models.PositiveIntegerField()

    class Meta:
        ordering: ClassVar = ["store", "year", "in_target", "recurred"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["store", "year", "in_target", "recurred"], name="removed_count_once"),
            models.CheckConstraint(condition=models.Q(people__gte=1), name="removed_count_positive"),
        ]

    def __str__(self) -> str:
        return f"removed people of {self.year} in one cell"
