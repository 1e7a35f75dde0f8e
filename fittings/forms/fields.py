"""Fields of the fittings' forms: numbers as people write them, and a few choices as big buttons to touch."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.html import format_html

from fittings.domain.fitting.bounds import LIMITS
from fittings.domain.fitting.need import GRADE_WORDS
from fittings.domain.fitting.regions import REGIONS, SIDES

REGION_CHOICES = [("", "no complaint"), *REGIONS.items()]
SIDE_CHOICES = [("", "side not known"), *SIDES.items()]
ZERO_TO_TEN = [(str(number), str(number)) for number in range(11)]
GRADE_CHOICES = [
    ("", "not checked"),
    *((str(grade), format_html("<b>{}</b> {}", grade, word)) for grade, word in enumerate(GRADE_WORDS)),
]
TRY_ROWS = 5
"""Rows of shoes tried on, on the page of a fitting."""

YES_NO = [("yes", "Yes"), ("no", "No")]
SHOE_LIST = {"list": "shoes", "autocomplete": "off"}


class MeasureField(forms.FloatField):
    """A number that may be left out, with a decimal point or comma; whatever is wrong, the message says the range."""

    def __init__(self, label: str, limits: str, **options: Any) -> None:
        self.low, self.high = LIMITS[limits]
        wanted = f"Write a number from {self.low:g} to {self.high:g}."
        super().__init__(
            label=label,
            required=False,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "maxlength": "12"}),
            error_messages={"invalid": wanted},
            **options,
        )
        self.wanted = wanted

    # Django makes its field of decimals a field of whole numbers.
    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        number: float | None = super().to_python(value.replace(",", ".") if isinstance(value, str) else value)
        if number is not None and not self.low <= number <= self.high:
            raise ValidationError(self.wanted, code="range")
        return number


class CountField(forms.IntegerField):
    """A whole number that may be left out; whatever is wrong, the message says the range."""

    def __init__(self, label: str, limits: str, **options: Any) -> None:
        self.low, self.high = (int(limit) for limit in LIMITS[limits])
        self.wanted = f"Write a whole number from {self.low} to {self.high}."
        super().__init__(
            label=label,
            required=False,
            # A minus sign is not on every keyboard of digits.
            widget=forms.TextInput(
                attrs={
                    "inputmode": "text" if self.low < 0 else "numeric",
                    "autocomplete": "off",
                    "maxlength": "6",
                    "class": "fit-short",
                }
            ),
            error_messages={"invalid": self.wanted},
            **options,
        )

    def to_python(self, value: Any) -> int | None:
        # The typographic minus that the pages themselves write is understood.
        number: int | None = super().to_python(value.replace("\u2212", "-") if isinstance(value, str) else value)
        if number is not None and not self.low <= number <= self.high:
            raise ValidationError(self.wanted, code="range")
        return number


def number_field(label: str, limits: str, *, help_text: str = "") -> MeasureField:
    return MeasureField(label, limits, help_text=help_text)


def whole_field(label: str, limits: str, help_text: str = "") -> CountField:
    return CountField(label, limits, help_text=help_text)


def pick_field(label: str, choices: Iterable[tuple[str, str]], **options: Any) -> forms.TypedChoiceField:
    """One of a few whole numbers as big buttons to touch; none picked is None."""
    return forms.TypedChoiceField(
        label=label,
        required=False,
        choices=list(choices),
        coerce=int,
        empty_value=None,
        widget=options.pop("widget", forms.RadioSelect),
        **options,
    )


def yes_no_field(label: str, *, other: str = "not asked", **options: Any) -> forms.TypedChoiceField:
    return forms.TypedChoiceField(
        label=label,
        required=False,
        choices=[*YES_NO, ("", other)],
        coerce=lambda text: text == "yes",
        empty_value=None,
        initial="",
        widget=forms.RadioSelect,
        **options,
    )
