"""What a second fitter saw of the same person, without knowing what the first one wrote down."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from catalogue.models import Shoe
from core.models import User
from fittings.models.fitting.fitting import FEET, Fitting, range_constraint, within
from fittings.models.fitting.look import GAIT_CHOICES, WORN_CHOICES, shoe_where_tried_on


class SecondObservation(models.Model):
    """One foot as a second fitter saw it in one look; null where not looked at. Changes nothing of the fitting."""

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="second_feet")
    fitter = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    # Walking barefoot is what the observation of a fitting is, and was all that a second fitter was asked for at first.
    gait = models.CharField(max_length=8, choices=GAIT_CHOICES, default="walking", db_default="walking")
    worn = models.CharField(max_length=10, choices=WORN_CHOICES, default="barefoot", db_default="barefoot")
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    foot = models.CharField(max_length=5, choices=[(foot, foot) for foot in FEET])
    pronation = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("grade"))
    tibial_rotation = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("grade"))
    rearfoot_eversion = models.PositiveSmallIntegerField(null=True, blank=True, validators=within("grade"))
    fpi6 = models.SmallIntegerField(null=True, blank=True, validators=within("fpi6"))
    pronation_deg = models.FloatField(null=True, blank=True, validators=within("degrees"))
    tibial_rotation_deg = models.FloatField(null=True, blank=True, validators=within("degrees"))
    rearfoot_eversion_deg = models.FloatField(null=True, blank=True, validators=within("degrees"))
    navicular_drop_mm = models.FloatField(null=True, blank=True, validators=within("navicular_drop_mm"))
    length_mm = models.FloatField(null=True, blank=True, validators=within("length_mm"))
    width_mm = models.FloatField(null=True, blank=True, validators=within("width_mm"))

    class Meta:
        ordering: ClassVar = ["fitting", "foot"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["fitting", "gait", "worn", "shoe", "foot"],
                name="second_observation_once_a_look",
                nulls_distinct=False,
                violation_error_message="This foot was looked at a second time already.",
            ),
            shoe_where_tried_on("second_observation"),
            range_constraint("second_observation", "pronation_deg", "degrees"),
            range_constraint("second_observation", "tibial_rotation_deg", "degrees"),
            range_constraint("second_observation", "rearfoot_eversion_deg", "degrees"),
            range_constraint("second_observation", "navicular_drop_mm"),
            range_constraint("second_observation", "length_mm"),
            range_constraint("second_observation", "width_mm"),
        ]

    def __str__(self) -> str:
        return f"second look at the {self.foot} foot of fitting {self.fitting_id}"
