"""What the lab and head office type of brands and shoes."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from catalogue.domain.gtin import short_gtin
from catalogue.models import EU_SIZE_MAX, EU_SIZE_MIN, Brand, Shoe, Use, Wearer
from catalogue.selectors.records.shoe_records import DISCONTINUED, STATES, RecordFilter
from catalogue.services import Barcode
from catalogue.services.records.shoe_rules import PRICE_MOST, currencies
from core.models import printable
from core.web.forms import REASON_MAX_LENGTH

PRICE = "price_"
INSOLE = {"": None, "yes": True, "no": False}
_BARCODE = re.compile(r"(?P<gtin>[\d\s-]+?)\s+(?:EU\s*)?(?P<size>\d{2}(?:[.,]\d)?)(?:\s+(?P<width>\S.*))?", re.ASCII)


class RecordFilterForm(forms.Form):
    """What the list of all shoes is narrowed to."""

    all_optional = True
    q = forms.CharField(
        label="Name or barcode", max_length=80, required=False, widget=forms.SearchInput, validators=[printable]
    )
    state = forms.ChoiceField(
        label="State", choices=[("", "any"), *STATES.items(), (DISCONTINUED, "discontinued")], required=False
    )
    brand = forms.ModelChoiceField(
        Brand.objects.order_by("name"), label="Brand", to_field_name="slug", required=False, empty_label="any"
    )

    def wanted(self) -> RecordFilter:
        """Return the filter; an invalid value is ignored, and the form shows the error."""
        self.is_valid()
        brand = self.cleaned_data.get("brand")
        return RecordFilter(
            words=self.cleaned_data.get("q", ""),
            state=self.cleaned_data.get("state", ""),
            brand=brand.slug if brand else "",
        )


class BrandForm(forms.Form):
    name = forms.CharField(label="Name", max_length=60, validators=[printable])


def _reason() -> forms.CharField:
    return forms.CharField(
        label="Reason",
        max_length=REASON_MAX_LENGTH,
        validators=[printable],
        help_text="Recorded in the audit trail.",
    )


class BrandCorrectionForm(BrandForm):
    reason = _reason()


def _size(label: str, help_text: str = "") -> forms.DecimalField:
    return forms.DecimalField(
        label=label,
        required=False,
        min_value=EU_SIZE_MIN,
        max_value=EU_SIZE_MAX,
        max_digits=4,
        decimal_places=1,
        help_text=help_text,
    )


def _number(label: str, low: int, high: int) -> forms.FloatField:
    return forms.FloatField(label=label, required=False, min_value=low, max_value=high)


class ShoeForm(forms.Form):
    """A new shoe. Only brand, name and use are needed; the rest can be added later."""

    brand = forms.ModelChoiceField(Brand.objects.order_by("name"), label="Brand", empty_label="choose")
    name = forms.CharField(label="Name", max_length=80, validators=[printable], help_text="Without brand and version.")
    version = forms.CharField(label="Version", max_length=20, required=False, validators=[printable])
    use = forms.ChoiceField(label="Made for", choices=Use.choices, initial=Use.RUNNING)
    wearer = forms.ChoiceField(label="For whom", choices=Wearer.choices, initial=Wearer.ALL)
    smallest_size_eu = _size("Smallest size (EU)")
    largest_size_eu = _size("Largest size (EU)")
    widths = forms.CharField(
        label="Width fittings", max_length=200, required=False, help_text="With commas between them, such as B, D, 2E."
    )
    mass_g = _number("Mass (g)", 20, 2000)
    stack_heel_mm = _number("Stack, heel (mm)", 0, 120)
    stack_forefoot_mm = _number("Stack, forefoot (mm)", 0, 120)
    stated_size_eu = _size("Stated for size (EU)", "The size that mass and stack heights hold for.")
    removable_insole = forms.ChoiceField(
        label="Removable insole", choices=[("", "not known"), ("yes", "yes"), ("no", "no")], required=False
    )
    season = forms.CharField(label="Season", max_length=30, required=False, validators=[printable])
    alternative_names = forms.CharField(
        label="Alternative names",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="One a line. The shoe can be searched for by them.",
    )
    barcodes = forms.CharField(
        label="Barcodes",
        max_length=20_000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One a line: GTIN, EU size and, if it has one, width, such as 4001234567891 42.5 D.",
    )
    note = forms.CharField(
        label="Our note",
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For staff; visitors do not see it.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for currency in currencies():
            self.fields[f"{PRICE}{currency}"] = forms.DecimalField(
                label=f"List price ({currency})",
                required=False,
                min_value=Decimal("0.01"),
                max_value=PRICE_MOST,
                max_digits=8,
                decimal_places=2,
            )

    def price_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(PRICE)]

    def clean_barcodes(self) -> list[Barcode]:
        lines = self.cleaned_data["barcodes"].splitlines()
        return [_barcode(number, line) for number, line in enumerate(lines, start=1) if line.strip()]

    def details(self, names: Sequence[str] | None = None) -> dict[str, Any]:
        """Return the details of the shoe as the services take them; only those of some fields, where they are named."""
        wanted = set(self.cleaned_data if names is None else names)
        details = {name: self.cleaned_data[name] for name in _PLAIN if name in wanted}
        if "widths" in wanted:
            details["widths"] = self.cleaned_data["widths"].split(",")
        if "alternative_names" in wanted:
            details["alternative_names"] = self.cleaned_data["alternative_names"].splitlines()
        if "removable_insole" in wanted:
            details["removable_insole"] = INSOLE[self.cleaned_data["removable_insole"]]
        if any(name.startswith(PRICE) for name in wanted):
            details["list_prices"] = self._prices()
        return details

    def _prices(self) -> dict[str, Decimal]:
        named = {name.removeprefix(PRICE): self.cleaned_data[name] for name in self.fields if name.startswith(PRICE)}
        return {currency: amount for currency, amount in named.items() if amount is not None}


_PLAIN = (
    *("brand", "name", "version", "use", "wearer", "smallest_size_eu", "largest_size_eu", "stated_size_eu"),
    *("mass_g", "stack_heel_mm", "stack_forefoot_mm", "season", "note", "slug"),
)


def _barcode(number: int, line: str) -> Barcode:
    read = _BARCODE.fullmatch(line.strip())
    if read is None:
        raise ValidationError(f"Line {number}: write GTIN and EU size, such as 4001234567891 42.5, then the width.")
    return Barcode(read["gtin"], Decimal(read["size"].replace(",", ".")), read["width"] or "")


class ShoeCorrectionForm(ShoeForm):
    """Corrections of a shoe. What each field said when it was opened goes with it, so that only changes are saved."""

    slug = forms.SlugField(
        label="Address on the web",
        max_length=80,
        error_messages={"invalid": "Use letters, digits and hyphens only."},
        help_text="The old address leads to the new one.",
    )
    reason = _reason()
    edition = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            field.show_hidden_initial = name not in ("reason", "edition")

    def clean_slug(self) -> str:
        slug: str = self.cleaned_data["slug"]
        if slug != slug.lower():
            raise ValidationError("Use lower-case letters only.")
        return slug

    def changes(self) -> dict[str, Any]:
        return self.details(self.changed_data)

    def changed_barcodes(self) -> list[Barcode] | None:
        return self.cleaned_data["barcodes"] if "barcodes" in self.changed_data else None

    def on_top_of(self, shoe: Shoe, edition: int) -> ShoeCorrectionForm:
        """Return the form with what was typed into it, the rest as somebody else has saved it since."""
        now = initial_of(shoe, edition)
        data = QueryDict(mutable=True)
        for name in self.fields:
            typed = name in self.changed_data or name == "reason"
            data[name] = self.data.get(name, "") if typed else now.get(name, "")
            data[self.add_initial_prefix(name)] = now.get(name, "")
        data["edition"] = str(edition)
        return ShoeCorrectionForm(data)


def initial_of(shoe: Shoe, edition: int) -> dict[str, str]:
    """Return what the fields of the correction form say of a shoe, as text."""
    insole = {value: text for text, value in INSOLE.items()}
    plain = {name: _text(getattr(shoe, name)) for name in _PLAIN if name != "brand"}
    return {
        **plain,
        "brand": str(shoe.brand_id),
        "widths": ", ".join(shoe.widths),
        "alternative_names": "\n".join(shoe.alternative_names),
        "removable_insole": insole[shoe.removable_insole],
        "barcodes": "\n".join(barcode_line(row) for row in shoe.barcodes.all()),
        **_price_texts(shoe.list_prices),
        "edition": str(edition),
    }


def _price_texts(prices: Mapping[str, str]) -> dict[str, str]:
    return {f"{PRICE}{currency}": amount for currency, amount in prices.items()}


def barcode_line(row: Any) -> str:
    return f"{short_gtin(row.gtin)} {row.size_eu.normalize():f} {row.width}".strip()


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return f"{value:.10g}" if isinstance(value, float) else str(value)


class OtherShoeForm(forms.Form):
    """Another shoe, chosen from those that were searched for, and why."""

    other = forms.ModelChoiceField(
        Shoe.objects.none(), label="Shoe", to_field_name="slug", widget=forms.RadioSelect, empty_label=None
    )
    reason = _reason()

    def __init__(self, *args: Any, shoes: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice: Any = self.fields["other"]
        choice.queryset = shoes
        choice.label_from_instance = lambda shoe: f"{shoe.brand.name} {shoe.title}"
