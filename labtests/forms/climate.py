"""Forms of the chambers' climate: shape and choices only; the rules are in the services."""

from __future__ import annotations

from django import forms

ZONE_HINT = (
    "Of times that are written without their offset, such as UTC or Europe/Oslo. Empty: each time has its offset."
)


class ClimateOptionsForm(forms.Form):
    """How a logger's file is to be read."""

    time_zone = forms.CharField(label="Time zone of the file", max_length=64, required=False, help_text=ZONE_HINT)
    unit = forms.ChoiceField(
        label="Unit of temperature",
        required=False,
        choices=[("", "as the column says"), ("degC", "°C"), ("degF", "°F")],
    )


class ClimateForm(ClimateOptionsForm):
    """A logger's file, previewed before it is imported."""

    field_order = ("file", "time_zone", "unit")
    file = forms.FileField(
        label="Logger file",
        help_text="CSV in UTF-8 with time, temperature and, where logged, relative humidity; up to 10 MB.",
        allow_empty_file=True,
    )
