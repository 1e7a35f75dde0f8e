"""The list of shoes under a filter, drawn: its form, its drawing, its rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from django.core.paginator import Page
from django.template.context import Context
from django.template.loader import render_to_string
from django.utils.html import escape
from django.utils.safestring import SafeString

from catalogue import drawings, presentation, selectors
from catalogue.domain.filters import ShoeFilter
from catalogue.domain.sieve import Ints
from catalogue.models import USES
from catalogue.presentation import writing
from catalogue.presentation.lists import NumberField, Option, RangeField
from catalogue.presentation.words import USE_NAMES
from catalogue.selectors import BandRow, Finding, Revision
from catalogue.selectors.scales import bands_at
from catalogue.selectors.stores import sizes_at, store_names_at
from catalogue.views.answers import page_of
from catalogue.views.frames import Pieces, cut, filled, left_open
from core.templatetags.paging import pager

PAGE = 24
SCALE_LABEL = "Shoes on the stability scale, flexible to very firm"
PLANE_LABEL = "Shoes by midfoot score, from left to right, and rearfoot score, upwards; larger marks cushion more"


@dataclass(frozen=True, slots=True)
class Results:
    """What a filter leaves, drawn: the same for every reader with the same units."""

    summary: str
    filters: SafeString
    markup: SafeString
    bands: tuple[Option, ...]
    uses: tuple[Option, ...]


@lru_cache(maxsize=128)
def results_of(wanted: ShoeFilter, units: str, revision: Revision) -> Results:
    """Draw form, drawing and list; kept as long as the catalogue stays as it is."""
    bands = bands_at(revision)
    finding = selectors.find(wanted, revision=revision)
    counts = finding.counts([band.order for band in bands])
    page = page_of(counts.matching, wanted.page, PAGE)
    choices = (
        tuple(presentation.band_options(wanted, bands, counts)),
        tuple(presentation.use_options(wanted, counts)),
    )
    summary = presentation.summary(wanted, counts)
    return Results(
        summary,
        _form(wanted, units, revision, choices),
        _markup(finding, page, summary, units, revision),
        *choices,
    )


@lru_cache(maxsize=2)
def _names(revision: Revision) -> presentation.Names:
    return presentation.Names(
        {band.order: band.name for band in bands_at(revision)},
        {store.slug: store.name for store in store_names_at(revision)},
    )


def _drawing(finding: Finding, listed: Ints, bands: Sequence[BandRow]) -> SafeString:
    if finding.wanted.view == "map":
        return drawings.plane_markup(finding, listed, bands, PLANE_LABEL)
    return drawings.scale_markup(finding, listed, bands, SCALE_LABEL)


@lru_cache(maxsize=32)
def _around_results(view: str, published: int, *, is_counted: bool, has_chips: bool, has_rows: bool) -> Pieces:
    names = ("summary", "everything_url", "views", "drawing", "advice", "loosened", "pager")
    context = {
        **{name: left_open(name) for name in names},
        "chips": left_open("chips") if has_chips else "",
        "rows": left_open("rows") if has_rows else "",
        "view": view,
        "published": published,
        "is_counted": is_counted,
    }
    return cut("catalogue/_results.html", context)


def _markup(finding: Finding, page: Page[int], summary: str, units: str, revision: Revision) -> SafeString:
    wanted, bands = finding.wanted, bands_at(revision)
    names = _names(revision)
    listed = finding.page(limit=PAGE, offset=(page.number - 1) * PAGE)
    chips = presentation.chips(wanted, names, units)
    shoes = selectors.listed_shoes(finding.columns, listed)
    published = finding.columns.count
    pieces = _around_results(
        wanted.view,
        published,
        is_counted=published > drawings.COUNTED_FROM,
        has_chips=bool(chips),
        has_rows=bool(shoes),
    )
    loosen = presentation.loosen(wanted, {} if shoes else finding.let_go(), names, units)
    inside = {
        "summary": escape(summary),
        "everything_url": escape(presentation.everything_address(wanted)),
        "chips": writing.chips(chips),
        "views": writing.view_links(presentation.view_links(wanted)),
        "drawing": _drawing(finding, listed, bands) if published else "",
        "rows": writing.shoe_rows([presentation.listed_text(shoe, units) for shoe in shoes]),
        "advice": "Let one thing go:" if loosen else "Letting one thing go is not enough.",
        "loosened": writing.loosened(loosen),
        "pager": _pager(page, wanted),
    }
    return filled(pieces, inside)


def _pager(page: Page[int], wanted: ShoeFilter) -> str:
    context = pager(Context(), page, noun="shoes", target="results", query=wanted.query())
    return render_to_string("components/pager.html", context)


Choices = tuple[tuple[Option, ...], tuple[Option, ...]]


def _form(wanted: ShoeFilter, units: str, revision: Revision, choices: Choices) -> SafeString:
    """Write the form of the filters."""
    bands, uses = choices
    ranges = presentation.range_fields(wanted, units)
    fields = [*(end for field in ranges for end in field.ends), presentation.mass_field(wanted, units)]
    pieces = _around_form(
        tuple((band.order, band.label) for band in bands),
        units,
        has_more=bool(set(wanted.active()) - {"q", "band"}),
    )
    inside = {
        "words": escape(wanted.q),
        "sizes": presentation.size_options(wanted.size, sizes_at(revision)),
        "stores": presentation.store_options(wanted.store, store_names_at(revision)),
        "orders": presentation.order_options(wanted.order),
        **{field.key: field.value for field in fields},
    }
    for option in (*bands, *uses):
        inside[f"checked {option.value}"] = option.checked
        inside[f"count {option.value}"] = str(option.count)
    return filled(pieces, inside)


@lru_cache(maxsize=16)
def _around_form(bands: tuple[tuple[int, str], ...], units: str, *, has_more: bool) -> Pieces:
    nothing = ShoeFilter()
    context = {
        **{name: left_open(name) for name in ("words", "sizes", "stores", "orders")},
        "bands": [_open_option(str(order), label, order) for order, label in bands],
        "uses": [_open_option(use, USE_NAMES[use], 0) for use in USES],
        "ranges": [
            RangeField(field.label, field.unit, (_open_number(field.ends[0]), _open_number(field.ends[1])))
            for field in presentation.range_fields(nothing, units)
        ],
        "mass": _open_number(presentation.mass_field(nothing, units)),
        "mass_unit": presentation.mass_sign(units),
        "has_more": has_more,
    }
    return cut("catalogue/_filters.html", context)


@dataclass(frozen=True, slots=True)
class _OpenOption:
    value: str
    label: str
    order: int
    checked: SafeString
    count: SafeString


def _open_option(value: str, label: str, order: int) -> _OpenOption:
    return _OpenOption(value, label, order, left_open(f"checked {value}"), left_open(f"count {value}"))


def _open_number(field: NumberField) -> NumberField:
    return NumberField(field.key, field.label, left_open(field.key))
