"""A shoe that people write by its name."""

from __future__ import annotations

from typing import Any

from django import forms

from catalogue.selectors.records.shoe_names import address_of, name_at
from core.models import printable

ADDRESS_LENGTH = 100


class ShoeField(forms.CharField):
    """A shoe by its name or, as bench files write it, by its address; its value is the address.

    An address that no shoe has is left to the service that looks it up, which says what to do.
    """

    def __init__(self, **options: Any) -> None:
        attributes = {"autocomplete": "off", "list": "shoe-names", "spellcheck": "false"}
        widget = forms.TextInput(attrs=attributes)
        super().__init__(max_length=ADDRESS_LENGTH, validators=[printable], widget=widget, **options)

    def clean(self, value: Any) -> str:
        text: str = super().clean(value)
        try:
            return address_of(text) if text else ""
        except ValueError as problem:
            raise forms.ValidationError(str(problem)) from problem

    def prepare_value(self, value: Any) -> Any:
        """Show the name of a shoe that was given by its address."""
        text = str(value or "").replace("\x00", "")
        return (name_at(text) if text else "") or value
