"""The form that picks two tests of a shoe."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from core.web import display
from labtests.models import BenchTest


def _label(test: BenchTest) -> str:
    specimen = test.specimen
    worn = f", worn {test.worn_km:g} km" if test.worn_km else ""
    return (
        f"{specimen.code}, {specimen.side}, EU {display.bare_size(specimen.size_eu)}{worn}: "
        f"test {test.pk}, {display.day(test.performed_at)}"
    )


class CompareForm(forms.Form):
    """Which two tests are compared."""

    first = forms.ChoiceField(label="This test")
    second = forms.ChoiceField(label="Against this one")

    def __init__(self, *args: Any, tests: Sequence[BenchTest], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, forms.ChoiceField):
                field.choices = [(str(test.pk), _label(test)) for test in tests]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if cleaned.get("first") and cleaned.get("first") == cleaned.get("second"):
            self.add_error("second", "That is the same test. Choose another.")
        return cleaned
