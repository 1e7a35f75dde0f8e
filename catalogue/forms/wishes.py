"""Asking for a shoe that is not in the catalogue, and answering."""

from __future__ import annotations

from django import forms

from catalogue.models import NOTE_MAX_LENGTH, REASON_MAX_LENGTH, Shoe, WishState
from catalogue.selectors.shoe_records import shoes_at
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
        max_length=80,
        validators=[printable],
        help_text="The last part of its page’s address.",
    )

    def clean_shoe(self) -> Shoe:
        slug = self.cleaned_data["shoe"]
        shoe = shoes_at([slug]).get(slug)
        if shoe is None:
            raise forms.ValidationError("There is no shoe with that address. Add the shoe first, then answer.")
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
