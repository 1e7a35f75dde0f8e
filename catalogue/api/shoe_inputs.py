"""What the API takes in to add or correct brands and shoes. The services check the rules."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.conf import settings
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from catalogue.models import EU_SIZE_MAX, EU_SIZE_MIN, WIDTH_MAX_LENGTH, Brand, Shoe, Use, Wearer
from catalogue.services import Barcode
from catalogue.services.records.shoe_rules import BARCODES_MOST, PRICE_MOST
from core.domain.errors import field_error
from core.domain.quoting import quoted
from core.web.forms import REASON_MAX_LENGTH
from core.web.strict import Flag, StrictSerializer, Text

SLUG = r"^[-a-z0-9_]+$"
NAMES_MOST = 20


class Number(serializers.FloatField):
    """A finite number; text and flags are not taken for one."""

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool) or not isinstance(data, (int, float)) or not math.isfinite(data):
            self.fail("invalid")
        return super().to_internal_value(data)


class Size(Number):
    """A size on the EU scale with at most one decimal."""

    def __init__(self, **options: Any) -> None:
        super().__init__(min_value=float(EU_SIZE_MIN), max_value=float(EU_SIZE_MAX), **options)

    def to_internal_value(self, data: Any) -> Any:
        return round(Decimal(str(super().to_internal_value(data))), 1)


@extend_schema_field(
    {
        "oneOf": [
            {"type": "number", "exclusiveMinimum": True, "minimum": 0, "maximum": int(PRICE_MOST)},
            {"type": "object", "additionalProperties": {"type": "number"}},
        ],
        "nullable": True,
        "description": "List price: a number in the practice’s own currency, or numbers by ISO 4217 code.",
    }
)
class Price(serializers.Field[Any, Any, Any, Any]):
    """A list price in the practice's own currency, or prices by currency."""

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        prices = data if isinstance(data, Mapping) else {settings.CURRENCY: data}
        if any(isinstance(amount, bool) or not isinstance(amount, (int, float)) for amount in prices.values()):
            raise serializers.ValidationError('Write a number, or numbers by currency: {"EUR": 139.9}.')
        return dict(prices)

    def to_representation(self, value: Any) -> Any:
        return value


class BrandInput(StrictSerializer):
    """A new brand."""

    name = Text(max_length=60)


class BrandChangeInput(BrandInput):
    """The corrected name of a brand, and why."""

    reason = Text(max_length=REASON_MAX_LENGTH)


class ShoeMergeInput(StrictSerializer):
    """The shoe that a duplicate is merged into, and why."""

    into = Text(max_length=80, help_text="Address of the shoe that stays.")
    reason = Text(max_length=REASON_MAX_LENGTH)


class BarcodeInput(StrictSerializer):
    """The GTIN of one size and width."""

    gtin = Text(max_length=20)
    size_eu = Size()
    width = Text(max_length=WIDTH_MAX_LENGTH, required=False, allow_blank=True)


class ShoeDetailsInput(StrictSerializer):
    """What may be stated of a shoe beside its brand, name and use; null means not known."""

    version = Text(max_length=20, required=False, allow_blank=True)
    wearer = serializers.ChoiceField(choices=Wearer.values, required=False)
    mass_g = Number(required=False, allow_null=True, min_value=20, max_value=2000)
    stack_heel_mm = Number(required=False, allow_null=True, min_value=0, max_value=120)
    stack_forefoot_mm = Number(required=False, allow_null=True, min_value=0, max_value=120)
    stated_size_eu = Size(required=False, allow_null=True, help_text="The size that mass and stack heights hold for.")
    smallest_size_eu = Size(required=False, allow_null=True)
    largest_size_eu = Size(required=False, allow_null=True)
    widths = serializers.ListField(
        child=Text(max_length=WIDTH_MAX_LENGTH), required=False, max_length=NAMES_MOST, help_text="Width fittings."
    )
    price = Price(required=False, allow_null=True)
    season = Text(max_length=30, required=False, allow_blank=True)
    removable_insole = Flag()
    previous = Text(required=False, allow_null=True, max_length=80, help_text="Address of the version before.")
    note = Text(max_length=2000, required=False, allow_blank=True, help_text="For staff; visitors do not see it.")
    alternative_names = serializers.ListField(
        child=Text(max_length=80), required=False, max_length=NAMES_MOST, help_text="Names it is searched for by."
    )
    barcodes = serializers.ListField(child=BarcodeInput(), required=False, max_length=BARCODES_MOST)


class ShoeInput(ShoeDetailsInput):
    """A new shoe."""

    brand = Text(max_length=50, help_text="Address of the brand.")
    name = Text(max_length=80)
    use = serializers.ChoiceField(choices=Use.values)


class ShoeChangeInput(ShoeDetailsInput):
    """Corrections of a shoe: only what changes, and why. `barcodes` replaces all of them."""

    brand = Text(required=False, max_length=50, help_text="Address of the brand.")
    name = Text(required=False, max_length=80)
    use = serializers.ChoiceField(choices=Use.values, required=False)
    slug = serializers.RegexField(
        SLUG, required=False, max_length=80, help_text="A new address; the old one leads to it."
    )
    discontinued = serializers.BooleanField(required=False)
    reason = Text(max_length=REASON_MAX_LENGTH)
    edition = serializers.IntegerField(
        required=False,
        min_value=0,
        max_value=2**63 - 1,
        help_text="The edition that was read; the correction is refused (409) where somebody changed the shoe since.",
    )


def details_in(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the details of a shoe as the services take them; brand and previous version become records."""
    values = {name: value for name, value in given.items() if name not in ("reason", "edition", "barcodes")}
    if "brand" in values:
        values["brand"] = _brand(values["brand"])
    if values.get("previous") is not None:
        values["previous"] = _previous(values["previous"])
    if "price" in values:
        values["list_prices"] = values.pop("price") or {}
    if "discontinued" in values:
        values["is_discontinued"] = values.pop("discontinued")
    return values


def barcodes_in(given: Mapping[str, Any]) -> list[Barcode] | None:
    """Return the barcodes of a body; None where it does not name any."""
    if "barcodes" not in given:
        return None
    return [Barcode(row["gtin"], row["size_eu"], row.get("width", "")) for row in given["barcodes"]]


def _brand(slug: str) -> Brand:
    brand = Brand.objects.filter(slug=slug).first()
    if brand is None:
        raise field_error("brand", f"There is no brand {quoted(slug)}. Add it first: POST /api/catalogue/brands/.")
    return brand


def _previous(slug: str) -> Shoe:
    shoe = Shoe.objects.filter(slug=slug).first()
    if shoe is None:
        raise field_error("previous", f"There is no shoe {quoted(slug)} to be the version before.")
    return shoe
