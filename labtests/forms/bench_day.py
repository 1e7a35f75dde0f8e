"""Forms of the bench day: shape and choices only; the rules are in the services."""

from __future__ import annotations

from typing import Any

from django import forms

from core.models import printable
from labtests.forms.shoes import ShoeField
from labtests.models import Chamber
from labtests.models.specimens import Side
from labtests.services import SpecimenGiven

CODE_LENGTH = 64
NOTE_LENGTH = 300


def _moment(label: str, hint: str) -> forms.DateTimeField:
    return forms.DateTimeField(
        label=label,
        required=False,
        help_text=hint,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )


class ChamberForm(forms.Form):
    """A chamber to set up."""

    code = forms.CharField(label="Code", max_length=CODE_LENGTH, help_text="Short, such as chamber-1.")
    name = forms.CharField(label="Name", max_length=80, required=False)


class SpecimenInForm(forms.Form):
    """A specimen that is put into a chamber; what it is only where it is not on record yet."""

    specimen = forms.CharField(
        label="Specimen", max_length=CODE_LENGTH, widget=forms.TextInput(attrs={"autocapitalize": "none"})
    )
    chamber = forms.ModelChoiceField(Chamber.objects.all(), label="Chamber", to_field_name="code", empty_label=None)
    shoe = ShoeField(label="Shoe", required=False, help_text="Brand, name and version.")
    size = forms.DecimalField(label="Size EU", required=False, max_digits=4, decimal_places=1)
    side = forms.ChoiceField(label="Side", required=False, choices=[("", "not said"), *Side.choices])
    in_at = _moment("Put in at", "Empty: now.")
    out_at = _moment("Taken out at", "Only for a stay that is over.")
    note = forms.CharField(label="Note", required=False, max_length=NOTE_LENGTH, validators=[printable])

    MORE = ("shoe", "size", "side", "in_at", "out_at", "note")

    def given(self) -> dict[str, Any]:
        """What the service takes."""
        read = self.cleaned_data
        specimen = SpecimenGiven(read["specimen"], shoe=read["shoe"], size_eu=read["size"], side=read["side"])
        return {"specimen": specimen, **{name: read[name] for name in ("chamber", "in_at", "out_at", "note")}}

    def has_more(self) -> bool:
        """Whether what is seldom needed was filled in or is wrong."""
        return self.is_bound and any(self[name].data or self[name].errors for name in self.MORE)


class SpecimenOutForm(forms.Form):
    """When a specimen was taken out."""

    out_at = _moment("Taken out at", "Empty: now.")


class LogFilterForm(forms.Form):
    """Which entries of the log are listed."""

    all_optional = True
    chamber = forms.CharField(label="Chamber", required=False, max_length=CODE_LENGTH)
    specimen = forms.CharField(label="Specimen", required=False, max_length=CODE_LENGTH)
    shoe = ShoeField(label="Shoe", required=False)
    state = forms.ChoiceField(
        label="State",
        required=False,
        choices=[("", "any"), ("in_chamber", "in the chamber"), ("over", "taken out"), ("struck", "struck")],
    )
