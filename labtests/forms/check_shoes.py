"""Forms of check shoes, studies and comparisons: shape and choices only; the rules are in the services."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms

from labtests.forms.bench_tests import REASON_LENGTH
from labtests.forms.quantities import STUDIED, WORN
from labtests.models import Rig
from labtests.models.studies import MAX_TRIALS, MIN_TRIALS
from labtests.selectors.studies.precision import MAX_LEVELS

PASTE_LENGTH = 400_000


def _day(label: str, *, required: bool = True, hint: str = "") -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"})
    return forms.DateField(label=label, required=required, help_text=hint, widget=widget)


def _reason(label: str, hint: str = "It stays in the audit trail.") -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": 3})
    return forms.CharField(label=label, max_length=REASON_LENGTH, help_text=hint, widget=widget)


def _quantity(choices: dict[str, Any], *, initial: str) -> forms.ChoiceField:
    listed = [(key, quantity.label) for key, quantity in choices.items()]
    return forms.ChoiceField(label="Reading", choices=listed, initial=initial, required=False)


class DesignateForm(forms.Form):
    """A specimen that becomes the check shoe of a rig."""

    specimen = forms.CharField(
        label="Specimen", max_length=64, help_text="Its code. It stays at the rig, and nobody wears it."
    )
    since = _day("Its tests count from", hint="Its tests from this day on are charted immediately.")
    reason = _reason("Why this one")


class QuantityForm(forms.Form):
    """Which reading a study shows."""

    quantity = _quantity(STUDIED, initial="torque")

    def chosen(self) -> str:
        return (self.cleaned_data.get("quantity") if self.is_valid() else None) or "torque"


class WornForm(forms.Form):
    """Which reading a wear series shows."""

    quantity = _quantity(WORN, initial="stability")

    def chosen(self) -> str:
        return (self.cleaned_data.get("quantity") if self.is_valid() else None) or "stability"


class PrecisionForm(QuantityForm):
    """Which specimens are compared, over which days; nothing picked compares `unpicked`."""

    specimen = forms.MultipleChoiceField(
        label="Specimens", required=False, widget=forms.CheckboxSelectMultiple, help_text="Up to 12."
    )
    begins_on = _day("Tests from", required=False)
    ends_on = _day("to", required=False)

    def __init__(self, *args: Any, specimens: list[str], unpicked: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unpicked = unpicked
        field = self.fields["specimen"]
        if isinstance(field, forms.MultipleChoiceField):
            field.choices = [(code, code) for code in specimens]

    def clean_specimen(self) -> list[str]:
        picked: list[str] = self.cleaned_data["specimen"]
        if len(picked) > MAX_LEVELS:
            raise forms.ValidationError(f"Pick up to {MAX_LEVELS} specimens, not {len(picked)}.")
        return picked

    def levels(self) -> list[str]:
        return self.cleaned_data.get("specimen") or self.unpicked

    def since(self) -> dt.date | None:
        return self.cleaned_data.get("begins_on")

    def until(self) -> dt.date | None:
        return self.cleaned_data.get("ends_on")


class StudyForm(forms.Form):
    """The plan of a gauge study."""

    title = forms.CharField(label="Title", max_length=80)
    rig = forms.ModelChoiceField(
        label="Rig", queryset=Rig.objects.all(), to_field_name="code", empty_label="choose a rig"
    )
    specimens = forms.CharField(
        label="Specimens",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="Their codes, two or more, one per line. Ten that span what you test is common practice.",
    )
    operators = forms.CharField(
        label="Operators",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Sign-in names, two or more, one per line. Three is common practice.",
    )
    trials = forms.IntegerField(
        label="Trials", min_value=MIN_TRIALS, max_value=MAX_TRIALS, initial=2, help_text="By each operator on each."
    )
    begins_on = _day("Tests count from")
    reason = _reason("Why the study is made")


class TemperatureForm(forms.Form):
    """The plan of a temperature study."""

    title = forms.CharField(label="Title", max_length=80)
    rig = forms.ModelChoiceField(
        label="Rig", queryset=Rig.objects.all(), to_field_name="code", empty_label="choose a rig"
    )
    specimen = forms.CharField(label="Specimen", max_length=64, help_text="Its code. All tests are of this one.")
    begins_on = _day("Tests count from")
    reason = _reason("Why the study is made")


class WhatIfForm(forms.Form):
    """Numbers from elsewhere, analysed and not stored: pasted, or as a file."""

    text = forms.CharField(
        label="Paste the table",
        required=False,
        max_length=PASTE_LENGTH,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
    )
    file = forms.FileField(label="Or a CSV file", required=False, allow_empty_file=True)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        file = cleaned.get("file")
        if file is None and not (cleaned.get("text") or "").strip() and not self.errors:
            self.add_error("text", "Paste a table or pick a file.")
        if file is not None and file.size > PASTE_LENGTH:
            self.add_error("file", f"The file is larger than {PASTE_LENGTH // 1000} kB.")
        return cleaned

    def table(self) -> bytes:
        """The table as it came; the file wins."""
        file = self.cleaned_data.get("file")
        return bytes(file.read()) if file is not None else str(self.cleaned_data["text"]).encode()
