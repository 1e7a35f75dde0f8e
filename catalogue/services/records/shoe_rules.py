"""What is checked of a brand or a shoe before it is saved: duplicates, addresses, barcodes, prices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from django.conf import settings
from django.utils.text import slugify

from catalogue.domain.gtin import full_gtin, short_gtin
from catalogue.models import Brand, Shoe, ShoeAddress, ShoeBarcode
from core.database.validation import check, check_fields
from core.domain.errors import DomainError, field_error, required_reason
from core.domain.figures import grouped
from core.models import Store

PRICE_MOST = Decimal(100_000)
BARCODES_MOST = 500
SHOE_SLUG_LENGTH, BRAND_SLUG_LENGTH = 80, 50

# What may be stated of a shoe beside its brand, name, address and barcodes.
DETAILS = frozenset(
    {
        "version",
        "use",
        "mass_g",
        "stack_heel_mm",
        "stack_forefoot_mm",
        "previous",
        "is_discontinued",
        "wearer",
        "widths",
        "smallest_size_eu",
        "largest_size_eu",
        "stated_size_eu",
        "removable_insole",
        "season",
        "list_prices",
        "note",
        "alternative_names",
    }
)


class Duplicate(DomainError):
    """What is to be added or changed is in the catalogue already."""

    def __init__(self, message: str, field: str = "name") -> None:
        super().__init__(message, code="doublet", status=409, fields={field: [message]})


@dataclass(frozen=True, slots=True)
class Barcode:
    """The GTIN of one size and width of a shoe, as it was read or typed."""

    gtin: str
    size_eu: Decimal
    width: str = ""


def check_reason(reason: str) -> None:
    required_reason(reason, asked="Say why: the reason is recorded in the audit trail.", code="reason_missing")


def check_brand_is_new(brand: Brand) -> None:
    other = Brand.objects.filter(name__iexact=brand.name).exclude(pk=brand.pk).first()
    if other is not None:
        raise Duplicate(f"This brand is in the catalogue already: {other.name}.")


def check_shoe_is_new(shoe: Shoe) -> None:
    """Refuse a second shoe of a brand with the same name and version, whatever their case."""
    same = Shoe.objects.filter(brand_id=shoe.brand_id, name__iexact=shoe.name, version__iexact=shoe.version)
    other = same.exclude(pk=shoe.pk).select_related("brand", "merged_into").first()
    if other is None:
        return
    merged = f", which was merged into {other.merged_into.slug}" if other.merged_into else ""
    raise Duplicate(
        f"This brand already has a shoe of this name and version: {other.brand.name} {other.title} "
        f"({other.slug}{merged})."
    )


def check_address_is_free(shoe: Shoe) -> None:
    """Refuse an address that another shoe has or had; one of the shoe's own earlier addresses may be used again."""
    other = Shoe.objects.filter(slug=shoe.slug).exclude(pk=shoe.pk).first()
    if other is not None:
        raise Duplicate(f"The shoe {other.title} already has the address {shoe.slug}.", "slug")
    earlier = ShoeAddress.objects.filter(slug=shoe.slug).exclude(shoe_id=shoe.pk).select_related("shoe").first()
    if earlier is not None:
        raise Duplicate(f"The address {shoe.slug} leads to {earlier.shoe.slug}, which had it before.", "slug")


def free_address(brand: Brand, name: str, version: str) -> str:
    """Return an address for a new shoe that no shoe has or had."""
    stem = slugify(f"{brand.name} {name} {version}")[: SHOE_SLUG_LENGTH - 4].strip("-") or "shoe"
    taken = {
        *Shoe.objects.filter(slug__startswith=stem).values_list("slug", flat=True),
        *ShoeAddress.objects.filter(slug__startswith=stem).values_list("slug", flat=True),
    }
    return _first_free(stem, taken)


def free_brand_address(name: str) -> str:
    stem = slugify(name)[: BRAND_SLUG_LENGTH - 4].strip("-") or "brand"
    return _first_free(stem, {*Brand.objects.filter(slug__startswith=stem).values_list("slug", flat=True)})


def _first_free(stem: str, taken: set[str]) -> str:
    number = 2
    slug = stem
    while slug in taken:
        slug, number = f"{stem}-{number}", number + 1
    return slug


def _one_line(text: str) -> str:
    """Return a text with single spaces between its words and none at its ends; line breaks are left to be refused."""
    return " ".join(filter(None, text.split(" ")))


def cleaned(details: Mapping[str, Any]) -> dict[str, Any]:
    """Return details of a shoe in the form in which they are stored.

    Raises
    ------
    TypeError
        For a detail that shoes do not have.
    DomainError
        For a price that is none.
    """
    if unknown := details.keys() - DETAILS - {"name", "brand", "slug"}:
        raise TypeError(f"A shoe has no {', '.join(sorted(unknown))}.")
    values = dict(details)
    for name in values.keys() & {"name", "version", "season"}:
        values[name] = _one_line(values[name])
    for name in values.keys() & {"widths", "alternative_names"}:
        values[name] = list(dict.fromkeys(filter(None, map(_one_line, values[name]))))
    if "list_prices" in values:
        values["list_prices"] = _prices(values["list_prices"])
    return values


def currencies() -> list[str]:
    """Return the currencies that list prices may be stated in: the practice's own first, then those of its stores."""
    others = Store.objects.exclude(currency="").order_by("currency").values_list("currency", flat=True).distinct()
    return list(dict.fromkeys([settings.CURRENCY, *others]))


def _prices(given: Mapping[str, Any]) -> dict[str, str]:
    known = currencies() if given else []
    prices = {}
    for currency, amount in sorted(given.items()):
        if currency not in known:
            raise field_error(
                "list_prices", f"{currency} is not a currency of our stores. Prices may be in {', '.join(known)}."
            )
        prices[currency] = _amount(currency, amount)
    return prices


def _amount(currency: str, given: Any) -> str:
    try:
        amount = Decimal(str(given))
    except InvalidOperation:
        amount = Decimal("NaN")
    if not amount.is_finite() or not 0 < amount <= PRICE_MOST or amount != round(amount, 2):
        raise field_error(
            "list_prices",
            f"The price in {currency} must be above 0 and at most {grouped(int(PRICE_MOST))}, with up to two decimals.",
        )
    return f"{amount:.2f}"


def check_shoe(shoe: Shoe) -> None:
    """Check all of a shoe. Its brand must be locked, so that nobody adds the same shoe at the same time."""
    check_shoe_is_new(shoe)
    check_address_is_free(shoe)
    check_previous(shoe)
    check(shoe)


def check_previous(shoe: Shoe) -> None:
    """Refuse a previous version that has another next version, or that comes after this shoe itself."""
    previous = shoe.previous
    if previous is None:
        return
    if previous.merged_into_id is not None:
        raise field_error("previous", f"{previous.slug} was merged into another shoe; link that one.", status=409)
    other = Shoe.objects.filter(previous=previous).exclude(pk=shoe.pk).first()
    if other is not None:
        raise field_error("previous", f"{previous.slug} already has the next version {other.slug}.", status=409)
    seen: Shoe | None = previous
    while seen is not None and shoe.pk is not None:
        if seen.pk == shoe.pk:
            raise field_error(
                "previous", f"{previous.slug} is a later version of this shoe, not an earlier one.", status=409
            )
        seen = seen.previous


def barcode_rows(shoe: Shoe, given: Sequence[Barcode]) -> list[ShoeBarcode]:
    """Return the rows of a shoe's barcodes, checked against each other and against those of other shoes."""
    if len(given) > BARCODES_MOST:
        raise field_error("barcodes", f"A shoe has at most {BARCODES_MOST} barcodes, not {len(given)}.")
    rows: dict[str, ShoeBarcode] = {}
    for barcode in given:
        row = _barcode_row(shoe, barcode)
        if row.gtin in rows:
            raise field_error("barcodes", f"The barcode {short_gtin(row.gtin)} appears twice. Remove one of them.")
        rows[row.gtin] = row
    taken = ShoeBarcode.objects.filter(gtin__in=rows).exclude(shoe_id=shoe.pk).select_related("shoe__brand").first()
    if taken is not None:
        owner = f"{taken.shoe.brand.name} {taken.shoe.title} ({taken.shoe.slug})"
        raise Duplicate(f"The barcode {short_gtin(taken.gtin)} belongs to {owner}.", "barcodes")
    return list(rows.values())


def _barcode_row(shoe: Shoe, barcode: Barcode) -> ShoeBarcode:
    try:
        gtin = full_gtin(barcode.gtin)
    except ValueError as problem:
        raise field_error("barcodes", str(problem), code="bad_gtin") from problem
    row = ShoeBarcode(shoe=shoe, gtin=gtin, size_eu=barcode.size_eu, width=_one_line(barcode.width))
    try:
        check_fields(row, but={"shoe"})
    except DomainError as problem:
        raise field_error("barcodes", f"Barcode {short_gtin(gtin)}: {problem.message}") from problem
    return row


def lock_brand(brand: Brand) -> None:
    """Have others who add or rename shoes of this brand wait to the end of the transaction."""
    Brand.objects.select_for_update(no_key=True).get(pk=brand.pk)
