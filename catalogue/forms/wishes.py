"""Asking for a shoe that is not in the catalogue, and answering."""

from __future__ import annotations

from django import forms

from catalogue.models import NOTE_MAX_LENGTH, REASON_MAX_LENGTH, Shoe, WishState
from catalogue.selectors.records.shoe_names import address_of
from catalogue.selectors.records.shoe_records import shoes_at
from core.models import printable


class WishForm(forms.Form):
    brand = forms.CharField(label="Brand", max_length=60, validators=[printable])
    name = forms.CharField(label="Shoe", max_length=80, validators=[printable], help_text="Name and version.")
    note = forms.CharField(
        label="Note",
        max_length=NOTE_MAX_LENGTH,
        required=False,
        widget=forms.Textarea,
        help_text="What it is for, where it is sold. Nothing about a customer.",
    )


class WishDoneForm(forms.Form):
    shoe = forms.CharField(
        label="Shoe in the catalogue",
        max_length=140,
        validators=[printable],
        widget=forms.TextInput(attrs={"autocomplete": "off", "list": "shoe-names", "spellcheck": "false"}),
        help_text="Brand, name and version.",
    )

    def clean_shoe(self) -> Shoe:
        try:
            slug = address_of(self.cleaned_data["shoe"])
        except ValueError as problem:
            raise forms.ValidationError(str(problem)) from problem
        shoe = shoes_at([slug]).get(slug)
        if shoe is None:
            raise forms.ValidationError("This shoe is not in the catalogue. Add it first, then answer.")
        return shoe


class WishDeclineForm(forms.Form):
    reason = forms.CharField(
        label="Reason", max_length=REASON_MAX_LENGTH, validators=[printable], help_text="The store is shown it."
    )


class WishFilterForm(forms.Form):
    """Which wishes to list; what can't be read lists the open ones."""

    all_optional = True

    state = forms.ChoiceField(label="State", choices=[*WishState.choices, ("all", "all")], required=False)

    def wanted(self) -> str:
        chosen = str(self.cleaned_data.get("state") or WishState.OPEN) if self.is_valid() else str(WishState.OPEN)
        return "" if chosen == "all" else chosen
