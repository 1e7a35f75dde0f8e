"""Forms of specimens: shape and choices only; the rules are in the services."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from core.models import printable
from labtests.forms.bench_tests import REASON_LENGTH
from labtests.forms.shoes import ShoeField
from labtests.models import ReceiptSource, SpecimenKind
from labtests.models.specimens import Side
from labtests.selectors.bench.retests import SORTS, WHY
from labtests.selectors.bench.specimens import SpecimensAsked
from labtests.services import ReceiptGiven

LABEL_LENGTH = 300


def _day(label: str) -> forms.DateField:
    return forms.DateField(
        label=label, initial=timezone.localdate, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


def _text(label: str, most: int, hint: str = "") -> forms.CharField:
    return forms.CharField(label=label, required=False, max_length=most, validators=[printable], help_text=hint)


class LabelForm(forms.Form):
    """What is on a label, scanned or typed."""

    label = forms.CharField(
        label="Label or code",
        max_length=LABEL_LENGTH,
        widget=forms.TextInput(attrs={"autocapitalize": "none", "autocomplete": "off", "spellcheck": "false"}),
    )


class SpecimenFilterForm(forms.Form):
    """Which specimens are listed."""

    all_optional = True

    q = forms.CharField(label="Code, shoe or place", required=False, max_length=80)
    kind = forms.ChoiceField(label="Kind", required=False, choices=[("", "any"), *SpecimenKind.choices])
    state = forms.ChoiceField(
        label="State", required=False, choices=[("", "any"), ("present", "in the lab"), ("disposed", "disposed of")]
    )

    def asked(self) -> SpecimensAsked:
        return SpecimensAsked(**self.cleaned_data)


class ReceiveForm(forms.Form):
    """A pair that came to the lab."""

    kind = forms.ChoiceField(
        label="What they are", choices=SpecimenKind.choices, initial=SpecimenKind.SAMPLE, widget=forms.RadioSelect
    )
    shoe = ShoeField(
        label="Shoe", help_text="Brand, name and version. Of a check shoe: the one that its bench files name."
    )
    size_eu = forms.DecimalField(label="Size EU", max_digits=4, decimal_places=1)
    sides = forms.MultipleChoiceField(
        label="Sides", choices=Side.choices, initial=list(Side.values), widget=forms.CheckboxSelectMultiple
    )
    source = forms.ChoiceField(label="Source", choices=ReceiptSource.choices)
    supplier = _text("From whom", 120)
    batch = _text("Batch", 80, "As on the box or the tongue.")
    received_on = _day("Received on")
    price = forms.DecimalField(label="Price of the pair", required=False, max_digits=9, decimal_places=2, min_value=0)
    currency = _text("Currency", 3, "Three letters, such as EUR.")
    place = _text("Place", 80, "Such as shelf 4.")
    stem = _text("Beginning of the codes", 60, "Empty: from the shoe’s name, with a number. -L and -R are added.")

    def receipt(self) -> ReceiptGiven:
        read = self.cleaned_data
        given: dict[str, Any] = {name: read[name] for name in ReceiptGiven.__slots__}
        return ReceiptGiven(**given | {"currency": read["currency"].upper()})


class RetestForm(forms.Form):
    """Which reason to test again is asked for, and in which order."""

    all_optional = True

    why = forms.ChoiceField(label="Because", required=False, choices=[("", "any reason"), *WHY.items()])
    sort = forms.ChoiceField(label="Order", required=False, choices=list(SORTS.items()))

    def asked(self) -> tuple[str, str]:
        """The reason (empty for any) and the order."""
        return self.cleaned_data["why"], self.cleaned_data["sort"] or next(iter(SORTS))


class MoveForm(forms.Form):
    """Where a specimen is."""

    place = _text("Place", 80)


class DisposeForm(forms.Form):
    """When and why a specimen left the lab."""

    on = _day("Disposed of on")
    reason = forms.CharField(label="Reason", max_length=REASON_LENGTH, widget=forms.Textarea(attrs={"rows": 2}))
