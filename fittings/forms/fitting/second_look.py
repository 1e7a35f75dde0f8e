"""What a second fitter sees of a person, asked for without showing what the first one wrote down."""

from __future__ import annotations

from django import forms

from fittings.domain.bounds import LIMITS
from fittings.domain.fitting.intake import FootIntake
from fittings.forms.fields import GRADE_CHOICES, pick_field


def measure_field(label: str, limits: str) -> forms.FloatField:
    low, high = LIMITS[limits]
    widget = forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"})
    return forms.FloatField(label=label, required=False, min_value=low, max_value=high, widget=widget)


class SecondFootForm(forms.Form):
    """One foot as the second fitter sees it."""

    pronation = pick_field("Pronation", GRADE_CHOICES)
    tibial_rotation = pick_field("Tibial rotation", GRADE_CHOICES)
    rearfoot_eversion = pick_field("Rearfoot eversion", GRADE_CHOICES)
    fpi6 = forms.IntegerField(
        label="Foot Posture Index",
        required=False,
        min_value=int(LIMITS["fpi6"][0]),
        max_value=int(LIMITS["fpi6"][1]),
        help_text="Sum of six items, −12 to 12.",
    )
    rearfoot_eversion_deg = measure_field("Rearfoot eversion, degrees", "degrees")
    pronation_deg = measure_field("Pronation, degrees", "degrees")
    tibial_rotation_deg = measure_field("Tibial rotation, degrees", "degrees")
    navicular_drop_mm = measure_field("Navicular drop, mm", "navicular_drop_mm")
    length_mm = measure_field("Foot length, mm", "length_mm")
    width_mm = measure_field("Foot width, mm", "width_mm")

    def foot(self) -> FootIntake:
        return FootIntake(**self.cleaned_data)
