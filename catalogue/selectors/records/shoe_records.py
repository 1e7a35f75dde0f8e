"""Shoes as the records that the lab and head office look after: every one of them, with its state."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

from django.contrib.postgres.search import SearchQuery
from django.db.models import Case, Exists, OuterRef, Q, QuerySet, Value, When

from catalogue.domain.gtin import full_gtin
from catalogue.domain.search_words import search_query
from catalogue.models import Brand, ScoreCard, Shoe, ShoeAddress
from core.domain.errors import DomainError
from core.domain.quoting import quoted

DRAFT, MEASURED, PUBLISHED, WITHDRAWN, MERGED = "draft", "measured", "published", "withdrawn", "merged"
DISCONTINUED = "discontinued"
STATES = {
    DRAFT: "draft",
    MEASURED: "measured, not published",
    PUBLISHED: "published",
    WITHDRAWN: "withdrawn",
    MERGED: "merged into another shoe",
}

# Says of a shoe whether it has an approved test; the lab registers it, because tests are its own.
_measured: list[Callable[[], Exists]] = []


def register_measured(condition: Callable[[], Exists]) -> None:
    """Have shoes counted as measured where this condition on the outer shoe's `pk` holds."""
    if condition not in _measured:
        _measured.append(condition)


def shoe_records() -> QuerySet[Any]:
    """Return every shoe with its brand and a `state` (a key of `STATES`), worked out from its cards and tests."""
    cards = ScoreCard.objects.filter(shoe=OuterRef("pk")).order_by()
    steps = [
        When(merged_into__isnull=False, then=Value(MERGED)),
        When(Exists(cards.filter(is_current=True)), then=Value(PUBLISHED)),
        When(Exists(cards), then=Value(WITHDRAWN)),
        *(When(condition(), then=Value(MEASURED)) for condition in _measured),
    ]
    return Shoe.objects.select_related("brand").annotate(state=Case(*steps, default=Value(DRAFT)))


def state_word(state: str, *, is_discontinued: bool) -> str:
    """Return the one word for a shoe's state: that it is discontinued comes first, but for cards taken back."""
    return DISCONTINUED if is_discontinued and state not in (WITHDRAWN, MERGED) else state


@dataclass(frozen=True, slots=True)
class RecordFilter:
    """What the list of all shoes is narrowed to; a barcode counts as words too."""

    words: str = ""
    state: str = ""
    brand: str = ""


def record_list(wanted: RecordFilter) -> QuerySet[Any]:
    shoes = shoe_records()
    if wanted.brand:
        shoes = shoes.filter(brand__slug=wanted.brand)
    if wanted.state == DISCONTINUED:
        shoes = shoes.filter(is_discontinued=True)
    elif wanted.state:
        shoes = shoes.filter(state=wanted.state)
    if wanted.words:
        shoes = shoes.filter(_named(wanted.words))
    return shoes.order_by("brand__name", "name", "version", "pk")


def _named(words: str) -> Q:
    query = search_query(words)
    by_name = Q(search__document=SearchQuery(query, config="simple", search_type="raw")) if query else Q(slug=words)
    try:
        return by_name | Q(barcodes__gtin=full_gtin(words))
    except ValueError:
        return by_name


def record_get(slug: str) -> Any:
    """Return one shoe with its state, or raise a 404."""
    shoe = shoe_records().select_related("previous__brand", "merged_into__brand").filter(slug=slug).first()
    if shoe is None:
        raise DomainError(f"There is no shoe {quoted(slug)}.", code="not_found", status=404)
    return shoe


def record_at(slug: str) -> Any:
    """Return the shoe that has this address, or had it before it was changed; raise a 404 where there is none.

    A merged duplicate has its own address still: it is returned, not the shoe that stays.
    """
    earlier = ShoeAddress.objects.filter(slug=slug).values_list("shoe__slug", flat=True).first()
    return record_get(earlier or slug)


def shoes_at(slugs: Collection[str]) -> dict[str, Shoe]:
    """Return the shoes that these addresses lead to: present and earlier ones, and those of merged duplicates."""
    shoes = {shoe.slug: shoe for shoe in Shoe.objects.filter(slug__in=slugs)}
    missing = set(slugs) - shoes.keys()
    earlier = ShoeAddress.objects.filter(slug__in=missing).select_related("shoe") if missing else ()
    shoes |= {address.slug: address.shoe for address in earlier}
    return {slug: _that_stays(shoe) for slug, shoe in shoes.items()}


def _that_stays(shoe: Shoe) -> Shoe:
    while shoe.merged_into is not None:
        shoe = shoe.merged_into
    return shoe


def current_address(slug: str) -> str | None:
    """Return the address that an address leads to, the same one where a shoe has it now; None where there is none."""
    return current_addresses([slug]).get(slug)


def current_addresses(slugs: Collection[str]) -> dict[str, str]:
    """Return which present address each of these leads to; those that lead nowhere are left out."""
    return {slug: shoe.slug for slug, shoe in shoes_at(slugs).items()}


def brand_list() -> QuerySet[Brand]:
    return Brand.objects.order_by("name")


def brand_get(slug: str) -> Brand:
    """Return a brand, or raise a 404."""
    brand = Brand.objects.filter(slug=slug).first()
    if brand is None:
        raise DomainError(f"There is no brand {quoted(slug)}.", code="not_found", status=404)
    return brand
