"""Forms of the list of tests: filters, order and columns, and one decision on several tests."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from core.domain.figures import figure
from core.web.forms import check_days
from labtests.forms.bench_tests import REASON_LENGTH
from labtests.forms.shoes import ShoeField
from labtests.models import State
from labtests.selectors.bench_tests import ORDER_KEYS, BenchTestFilter
from labtests.services.deciding import DECISIONS

# Columns of the list besides test and shoe, in the order in which they are shown.
COLUMNS = {
    "rig": "Rig",
    "operator": "Operator",
    "performed": "Performed",
    "protocol": "Protocol",
    "state": "State",
    "held": "Held because",
    "conditioned": "Conditioned",
    "temperature": "Temperature",
    "worn": "Worn",
    "torque": "Torque",
    "deflection": "Deflection",
    "work": "Work",
    "energy_return": "Energy return",
    "stability": "Stability",
    "midfoot": "Midfoot",
    "rearfoot": "Rearfoot",
    "cushioning": "Cushioning",
    "band": "Band",
}
DEFAULT_COLUMNS = ("rig", "performed", "state", "stability", "band")
LOWEST_C, HIGHEST_C = -100.0, 200.0
MOST_DIGITS = 15


def _text(label: str, *, most: int = 64) -> forms.CharField:
    return forms.CharField(label=label, required=False, max_length=most)


def _day(label: str) -> forms.DateField:
    return forms.DateField(label=label, required=False, widget=forms.DateInput(attrs={"type": "date"}))


def _celsius(label: str) -> forms.FloatField:
    widget = forms.NumberInput(attrs={"step": "any"})
    return forms.FloatField(label=label, required=False, min_value=LOWEST_C, max_value=HIGHEST_C, widget=widget)


class BenchTestFilterForm(forms.Form):
    """Which tests are listed, in which order, with which columns."""

    all_optional = True

    q = _text("Shoe, by brand or name", most=80)
    state = forms.ChoiceField(label="State", required=False, choices=[("", "any"), *State.choices])
    rig = _text("Rig")
    operator = _text("Operator, sign-in name", most=150)
    specimen = _text("Specimen")
    since = _day("Performed from")
    until = _day("Performed to")
    temperature_min = _celsius("Temperature from, °C")
    temperature_max = _celsius("Temperature to, °C")
    protocol = _text("Protocol", most=20)
    shoe = ShoeField(label="Exactly this shoe", required=False)
    order = forms.ChoiceField(
        required=False,
        choices=[("", ""), *((key, key) for key in ORDER_KEYS)],
        widget=forms.HiddenInput,
        error_messages={
            "invalid_choice": "The list has no such order. Press “Show”, then choose one by the heading of a column."
        },
    )
    column = forms.MultipleChoiceField(
        label="Columns", required=False, choices=[*COLUMNS.items()], widget=forms.CheckboxSelectMultiple
    )

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or {}
        check_days(self)
        low, high = given.get("temperature_min"), given.get("temperature_max")
        if low is not None and high is not None and low > high:
            self.add_error("temperature_max", f"This is below {figure(low)} °C; give a higher one or leave it out.")
        return given

    def asked(self) -> BenchTestFilter:
        return BenchTestFilter(**{name: self.cleaned_data[name] for name in BenchTestFilter.__slots__})

    def columns(self) -> tuple[str, ...]:
        """The chosen columns in the order of the list; the usual ones where none is chosen."""
        chosen = (self.cleaned_data.get("column") if self.is_valid() else None) or DEFAULT_COLUMNS
        return tuple(key for key in COLUMNS if key in chosen)

    def filters(self) -> list[forms.BoundField]:
        """The fields to show; one shoe alone comes with a link, and people type its name above."""
        hidden = {"order", "column"} | (set() if self["shoe"].data else {"shoe"})
        return [field for field in self if field.name not in hidden]


class DecideForm(forms.Form):
    """One decision with one reason on several tests."""

    decision = forms.ChoiceField(
        label="Decision",
        widget=forms.RadioSelect,
        choices=[(key, words) for key, (words, _) in DECISIONS.items()],
    )
    reason = forms.CharField(
        label="Reason",
        required=False,
        max_length=REASON_LENGTH,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Needed for all but approving. Each test gets an entry of its own in the audit trail.",
    )

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or {}
        if given.get("decision") not in (None, "approve") and not (given.get("reason") or "").strip():
            self.add_error("reason", "Give a reason.")
        return given


def numbers_in(values: Sequence[str], *, most: int) -> list[int]:
    """Read the numbers of tests from a query, each once, in the order given; what is no number is left out."""
    numbers = (int(value) for value in values if value.isascii() and value.isdigit() and len(value) <= MOST_DIGITS)
    return list(dict.fromkeys(numbers))[:most]
