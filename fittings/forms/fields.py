"""Fields of the fittings' forms: numbers as people write them, and a few choices as big buttons to touch."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.html import format_html

from core.domain import units
from core.domain.figures import figure
from core.web.display import METRIC, MINUS, STYLES
from fittings.domain.bounds import LIMITS
from fittings.domain.fitting.need import GRADE_WORDS
from fittings.domain.regions import REGIONS, SIDES

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
SHOE_LIST = {"list": "shoes", "autocomplete": "off", "spellcheck": "false"}
SHOE_NAME_MAX = 160
STORED_DIGITS = 2
WRITTEN_DIGITS = {"lb": 1, "mi": 1, "in": 2}


class MeasureField(forms.FloatField):
    """A number that may be left out, with a decimal point or comma; whatever is wrong, the message says the range.

    `kind` is one of `core.web.display.STYLES` where the unit follows the reader's system. The value is that of the unit
    stored, whatever it was written in.
    """

    def __init__(self, label: str, limits: str, kind: str = "", **options: Any) -> None:
        self.low, self.high = LIMITS[limits]
        self.kind = kind
        super().__init__(
            label=label,
            required=False,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "maxlength": "12"}),
            **options,
        )
        self.use_units(METRIC)

    def use_units(self, system: str) -> None:
        """Take what is written as in this system of units, and say the range in it."""
        self.written_as = STYLES[self.kind][system] if self.kind else None
        self.unit = self.written_as.sign if self.written_as else ""
        self.is_converted = self.written_as is not None and self.written_as.unit != self.written_as.stored_unit
        low, high = (self.written(limit) for limit in (self.low, self.high))
        unit = f" {self.unit}" if self.is_converted else ""
        self.wanted = f"Write a number from {low} to {high}{unit}.".replace("-", MINUS)
        self.error_messages = self.error_messages | {"invalid": self.wanted}

    # Django makes its field of decimals a field of whole numbers.
    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        number: float | None = super().to_python(value.replace(",", ".") if isinstance(value, str) else value)
        if number is not None and self.is_converted:
            number = round(self._converted(number), STORED_DIGITS)
        if number is not None and not self.low <= number <= self.high:
            raise ValidationError(self.wanted, code="range")
        return number

    def written(self, stored: float) -> str:
        """Write a stored value in the units of this field."""
        if self.written_as is None or not self.is_converted:
            return f"{stored:g}"
        units_stored = units.to_si(stored, self.written_as.stored_unit, quantity=self.written_as.quantity)
        shown = units.from_si(units_stored, self.written_as.unit, quantity=self.written_as.quantity)
        return f"{shown:.{WRITTEN_DIGITS[self.written_as.unit]}f}".rstrip("0").rstrip(".")

    def as_stored(self, text: str) -> str:
        """Write what was written as it is stored; what is no number stays as it is."""
        if not self.is_converted:
            return text
        try:
            value = self.to_python(text)
        except ValidationError:
            return text
        return "" if value is None else f"{value:.{STORED_DIGITS}f}".rstrip("0").rstrip(".")

    def as_written(self, text: str) -> str:
        """Write what is stored in the units of this field; what is no number stays as it is."""
        try:
            return self.written(float(text.replace(",", "."))) if self.is_converted else text
        except ValueError:
            return text

    def _converted(self, number: float) -> float:
        style = self.written_as
        assert style is not None  # noqa: S101  asked for converted fields only; for the type checker
        stored = units.to_si(number, style.unit, quantity=style.quantity)
        return units.from_si(stored, style.stored_unit, quantity=style.quantity)


class ShoeNameField(forms.CharField):
    """A shoe by its name. Names are offered while one is typed; an address that was stored is shown as the name."""

    def __init__(self, **options: Any) -> None:
        self.titles: Mapping[str, str] = {}
        super().__init__(max_length=SHOE_NAME_MAX, widget=forms.TextInput(attrs=SHOE_LIST), **options)

    def prepare_value(self, value: Any) -> Any:
        return self.titles.get(value, value)


class CountField(forms.IntegerField):
    """A whole number that may be left out; whatever is wrong, the message says the range."""

    def __init__(self, label: str, limits: str, **options: Any) -> None:
        self.low, self.high = (int(limit) for limit in LIMITS[limits])
        self.wanted = f"Write a whole number from {figure(self.low)} to {figure(self.high)}."
        super().__init__(
            label=label,
            required=False,
            # A minus sign is not on every keyboard of digits: scripts add a button for it, and bring the number pad.
            widget=forms.TextInput(
                attrs={
                    "inputmode": "text" if self.low < 0 else "numeric",
                    "autocomplete": "off",
                    "maxlength": "6",
                    "class": "fit-short",
                }
                | ({"data-signed": "yes"} if self.low < 0 else {})
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


def number_field(label: str, limits: str, *, kind: str = "", help_text: str = "") -> MeasureField:
    return MeasureField(label, limits, kind, help_text=help_text)


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
