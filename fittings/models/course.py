"""What became of somebody who chose a shoe, kept beside the answers that it follows from."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from catalogue.models import Band, Shoe
from core.models import Store, User
from fittings.models.fitting import Fitting


def _beside(to: type[models.Model]) -> Any:
    """A key that the fitting, the choice or its score card holds already: not checked again, not indexed."""
    return models.ForeignKey(to, on_delete=models.DO_NOTHING, related_name="+", db_constraint=False, db_index=False)


class Course(models.Model):
    """The course of one fitting with a choice. Triggers of the database write it, nothing else does.

    Calculated by `fittings_courses_of` in `fittings/triggers/courses.sql`.
    """

    fitting = models.OneToOneField(Fitting, on_delete=models.CASCADE, primary_key=True, related_name="course")
    store = _beside(Store)
    fitter = _beside(User)
    shoe = _beside(Shoe)
    band = _beside(Band)
    use = models.CharField(max_length=10)
    in_target = models.BooleanField()
    chosen_on = models.DateField()
    complaints = models.PositiveSmallIntegerField()
    answered = models.BooleanField()
    waits_since = models.DateField(null=True, help_text="The first follow-up due after the last answer, still open.")
    days = models.PositiveIntegerField(null=True, help_text="At risk of a recurrence; null where never.")
    km = models.FloatField(null=True)
    recurred = models.BooleanField()

    class Meta:
        ordering: ClassVar = ["fitting"]
        indexes: ClassVar = [models.Index(fields=["store", "chosen_on"], name="course_by_store_and_day")]

    def __str__(self) -> str:
        return f"course of fitting {self.fitting_id}"
