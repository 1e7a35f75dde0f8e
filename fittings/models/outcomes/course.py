"""What became of somebody who chose a shoe, stored beside the answers that it follows from."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from catalogue.models import Band, Shoe
from core.models import Store, User
from fittings.models.fitting.choice import Choice
from fittings.models.fitting.fitting import REGION_CHOICES, SIDE_CHOICES, Fitting
from fittings.models.people.people import Customer


def _beside(to: type[models.Model], *, indexed: bool = False) -> Any:
    """A key that the fitting, the choice or its score card has already: not checked again."""
    return models.ForeignKey(to, on_delete=models.DO_NOTHING, related_name="+", db_constraint=False, db_index=indexed)


class LeftOut(models.IntegerChoices):
    """Why somebody who chose a shoe is not among those at risk, the first that applies."""

    NO_COMPLAINT = 1, "had no complaint that could come back"
    NO_ANSWER = 2, "answered no follow-up"
    NOT_SAID = 3, "answered, but never said whether the complaint was there"
    NEVER_FREE = 4, "had the complaint at every answer"
    NOT_WATCHED = 5, "said nothing after the complaint had gone, with this shoe"
    WORN_BESIDE = 6, "chose it to wear beside another pair, which counts"


class Course(models.Model):
    """How one complaint of one person went while they wore one shoe. Triggers of the database write it, nothing else.

    A course is one complaint (region and side) of one person, however many fittings there were. Its time at risk is
    counted in days from its beginning; a person who chose another shoe meanwhile, by an exchange too, has a row for
    each shoe, which begins at `entered_days` and ends at `days`. Pairs worn beside the first have a row that is left
    out, since what happens can't be put down to one of them. A choice during which nothing was at risk has one row
    without a complaint, so that everybody who chose is here. Calculated by `fittings_courses_of` in
    `fittings/triggers/courses.sql`.
    """

    customer = _beside(Customer, indexed=True)
    fitting = models.ForeignKey(Fitting, on_delete=models.CASCADE, related_name="courses", db_index=False)
    choice = _beside(Choice)
    region = models.CharField(max_length=20, choices=REGION_CHOICES, blank=True)
    side = models.CharField(max_length=5, choices=SIDE_CHOICES, blank=True)
    store = _beside(Store)
    fitter = _beside(User)
    shoe = _beside(Shoe)
    band = _beside(Band)
    use = models.CharField(max_length=10)
    in_target = models.BooleanField()
    chosen_on = models.DateField()
    complaints = models.PositiveSmallIntegerField(help_text="Complaints recorded at the fitting.")
    answered = models.BooleanField(help_text="Whether the person answered any follow-up.")
    waits_since = models.DateField(null=True, help_text="The first follow-up due after the last contact, still open.")
    left_out = models.PositiveSmallIntegerField(null=True, choices=LeftOut.choices)
    entered_days = models.PositiveIntegerField(
        null=True, help_text="Day of the course on which this shoe was chosen; 0 for the first."
    )
    free_until_days = models.PositiveIntegerField(
        null=True, help_text="Last day known to be free of the complaint; a recurrence began after it."
    )
    days = models.PositiveIntegerField(
        null=True, help_text="Day of the visit with the recurrence, the last known answer or the next shoe."
    )
    km = models.FloatField(null=True, help_text="Null where a distance of the course is not known.")
    recurred = models.BooleanField()
    visits = models.PositiveSmallIntegerField(
        help_text="Answered follow-ups of the fitting, on its first row; 0 on the others."
    )
    visits_open = models.PositiveSmallIntegerField(help_text="Those of them that leave one of the complaints open.")

    class Meta:
        ordering: ClassVar = ["fitting", "region", "side"]
        indexes: ClassVar = [models.Index(fields=["store", "chosen_on"], name="course_by_store_and_day")]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["choice", "region", "side"], name="course_once_a_complaint_and_choice")
        ]

    def __str__(self) -> str:
        return f"course of fitting {self.fitting_id}"
