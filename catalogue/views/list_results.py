"""The list of shoes under a filter, drawn: its form, its drawing, its rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from django.core.paginator import Page
from django.template.context import Context
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.safestring import SafeString

from catalogue import drawings, presentation, selectors
from catalogue.domain.filters import ShoeFilter
from catalogue.domain.sieve import Ints
from catalogue.presentation import sharing
from catalogue.presentation.lists import Option
from catalogue.selectors import BandRow, Revision, Selection
from catalogue.selectors.revision import kept
from catalogue.selectors.scales import bands_at
from catalogue.selectors.stores import sizes_at, store_names_at
from catalogue.views.answers import page_of
from core.templatetags.paging import pager
from core.web.jinja import fragment

PAGE = 24
SCALE_LABEL = "Shoes on the stability scale, those that hold least first"
PLANE_LABEL = "Shoes by midfoot score, from left to right, and rearfoot score, upwards; larger marks cushion more"


# Written for each page, the options of 500 stores took a sixth of it.
_store_options = kept(lambda revision: fragment("catalogue/store_options.html", stores=store_names_at(revision)))


@dataclass(frozen=True, slots=True)
class Results:
    """What a filter leaves, drawn: the same for every reader with the same units."""

    title: str
    description: str
    summary: str
    filters: SafeString
    markup: SafeString
    bands: tuple[Option, ...]
    uses: tuple[Option, ...]


# A list that was asked for before costs a fifth of a new one: the first page, one band, one store.
@lru_cache(maxsize=128)
def results_of(wanted: ShoeFilter, units: str, revision: Revision) -> Results:
    """Draw form, drawing and list."""
    bands = bands_at(revision)
    selection = selectors.select_shoes(wanted, revision=revision)
    counts = selection.counts([band.order for band in bands])
    page = page_of(counts.matching, wanted.page, PAGE)
    summary = presentation.summary(wanted, counts)
    form = presentation.FilterForm(
        url=presentation.list_url(),
        words=wanted.q,
        bands=presentation.band_options(wanted, bands, counts),
        uses=presentation.use_options(wanted, counts),
        sizes=presentation.size_options(wanted.size, sizes_at(revision)),
        store=_chosen_store(wanted, revision),
        stores=_store_options(revision),
        orders=presentation.order_options(wanted.order),
        ranges=presentation.range_fields(wanted, units),
        mass=presentation.mass_field(wanted, units),
        mass_unit=presentation.mass_sign(units),
        has_more=bool(set(wanted.active()) - {"q", "band"}),
    )
    names = presentation.Names({band.order: band.name for band in bands}, store_names_at(revision))
    return Results(
        title=sharing.list_title(wanted, names, units),
        description=sharing.list_description(summary),
        summary=summary,
        filters=fragment("catalogue/filters.html", form=form),
        markup=_markup(selection, page, summary, units, revision),
        bands=tuple(form.bands),
        uses=tuple(form.uses),
    )


def _chosen_store(wanted: ShoeFilter, revision: Revision) -> Option | None:
    return Option(wanted.store, store_names_at(revision)[wanted.store], is_chosen=True) if wanted.store else None


def _drawing(selection: Selection, listed: Ints, bands: Sequence[BandRow]) -> SafeString:
    if selection.wanted.view == "map":
        return drawings.plane_markup(selection, listed, bands, PLANE_LABEL)
    return drawings.scale_markup(selection, listed, bands, SCALE_LABEL)


def _markup(selection: Selection, page: Page[int], summary: str, units: str, revision: Revision) -> SafeString:
    wanted, bands = selection.wanted, bands_at(revision)
    names = presentation.Names({band.order: band.name for band in bands}, store_names_at(revision))
    listed = selection.page(limit=PAGE, offset=(page.number - 1) * PAGE)
    shoes = selectors.listed_shoes(selection.columns, listed)
    published = selection.columns.count
    return fragment(
        "catalogue/results.html",
        summary=summary,
        published=published,
        is_counted=published > drawings.COUNTED_FROM,
        chips=presentation.chips(wanted, names, units),
        everything_url=presentation.everything_address(wanted),
        view=wanted.view,
        views=presentation.view_links(wanted),
        drawing=_drawing(selection, listed, bands) if published else "",
        shoes=[presentation.listed_text(shoe, units) for shoe in shoes],
        loosened=presentation.loosen(wanted, {} if shoes else selection.left_without_each(), names, units),
        compare_url=reverse("catalogue:shoe-compare"),
        pager=_pager(page, wanted),
    )


def _pager(page: Page[int], wanted: ShoeFilter) -> SafeString:
    context = pager(Context(), page, noun="shoes", target="results", query=wanted.query())
    return render_to_string("components/pager.html", context)
