"""Looks at a person in motion beside the observation, and what each shoe changed."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from catalogue.models import Shoe
from core.models import User
from fittings.domain.fitting.looks import GAITS, MOVEMENTS, WORN
from fittings.models.fitting.cutoffs import GradeCutoffs
from fittings.models.fitting.fitting import FEET, Fitting, graded_where_measured, range_constraint, within

GAIT_CHOICES = list(GAITS.items())
WORN_CHOICES = list(WORN.items())


def shoe_where_tried_on(model: str) -> models.CheckConstraint:
    """Hold a shoe exactly where the look was at somebody in a shoe tried on."""
    return models.CheckConstraint(
        condition=Q(worn="candidate", shoe__isnull=False) | (~Q(worn="candidate") & Q(shoe__isnull=True)),
        name=f"{model}_shoe_where_tried_on",
        violation_error_message="Name the shoe where it was one tried on, and no shoe otherwise.",
    )


class LookFoot(models.Model):
    """One foot in one look; null where a sign was not looked at.

    The look at the person walking barefoot is not here: it is the observation (`FootObservation`), which the need
    follows from.
    """

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="look_feet")
    gait = models.CharField(max_length=8, choices=GAIT_CHOICES)
    worn = models.CharField(max_length=10, choices=WORN_CHOICES)
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    foot = models.CharField(max_length=5, choices=[(foot, foot) for foot in FEET])
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    pronation = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("grade"))
    tibial_rotation = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("grade"))
    rearfoot_eversion = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("grade"))
    pronation_deg = models.FloatField(null=True, blank=True, validators=within("degrees"))
    tibial_rotation_deg = models.FloatField(null=True, blank=True, validators=within("degrees"))
    rearfoot_eversion_deg = models.FloatField(null=True, blank=True, validators=within("degrees"))
    rearfoot_eversion_apart = models.FloatField(
        null=True,
        blank=True,
        help_text="Of an angle that is the mean of two readings on a picture: how far they differ.",
    )
    cutoffs = models.ForeignKey(GradeCutoffs, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering: ClassVar = ["fitting", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["fitting", "gait", "worn", "shoe", "foot"],
                name="look_foot_once",
                nulls_distinct=False,
                violation_error_message="This look was recorded already.",
            ),
            models.CheckConstraint(
                condition=~Q(gait="walking", worn="barefoot"),
                name="look_foot_is_not_the_observation",
                violation_error_message="Walking barefoot is the observation of the fitting.",
            ),
            shoe_where_tried_on("look_foot"),
            range_constraint("look_foot", "pronation", "grade"),
            range_constraint("look_foot", "tibial_rotation", "grade"),
            range_constraint("look_foot", "rearfoot_eversion", "grade"),
            range_constraint("look_foot", "pronation_deg", "degrees"),
            range_constraint("look_foot", "tibial_rotation_deg", "degrees"),
            range_constraint("look_foot", "rearfoot_eversion_deg", "degrees"),
            models.CheckConstraint(
                condition=graded_where_measured("pronation")
                & graded_where_measured("tibial_rotation")
                & graded_where_measured("rearfoot_eversion"),
                name="look_foot_degrees_have_grade",
                violation_error_message="Degrees are kept with the grade and the cut-offs that made it.",
            ),
            models.CheckConstraint(
                condition=Q(rearfoot_eversion_apart__isnull=True)
                | Q(rearfoot_eversion_apart__gte=0, rearfoot_eversion_deg__isnull=False),
                name="look_foot_apart_has_angle",
                violation_error_message="How far two readings differ is stored with their mean.",
            ),
        ]

    def __str__(self) -> str:
        return f"look at the {self.foot} foot of fitting {self.fitting_id}"


class ShoeMovement(models.Model):
    """Whether the feet moved less, as much or more in a shoe tried on than barefoot, over all looks at the person.

    Written with the looks that it follows from; the outcomes are split by it. A shoe without a row was not looked at,
    or not barefoot in the same gait.
    """

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="shoe_movements")
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="+")
    movement = models.CharField(max_length=6, choices=list(MOVEMENTS.items()))

    class Meta:
        ordering: ClassVar = ["fitting", "pk"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["fitting", "shoe"], name="shoe_movement_once")]

    def __str__(self) -> str:
        return f"movement in one shoe of fitting {self.fitting_id}"


class SupersededLook(models.Model):
    """A look, an observation or a measure on a picture that was corrected or taken back. It counts nowhere."""

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="superseded_looks")
    number = models.BigIntegerField(help_text="The number it had; the same for no other of its kind.")
    content = models.JSONField(help_text="What was seen or measured, by name.")
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    superseded_at = models.DateTimeField()
    superseded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField(max_length=500)

    class Meta:
        ordering: ClassVar = ["superseded_at", "pk"]

    def __str__(self) -> str:
        return f"corrected look of fitting {self.fitting_id}"
