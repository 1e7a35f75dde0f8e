"""The list of shoes under a filter, drawn: its form, its drawing, its rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from django.core.paginator import Page
from django.http import QueryDict
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
from catalogue.selectors.public.revision import per_revision
from catalogue.selectors.public.scales import bands_at
from catalogue.selectors.public.selection import widths_offered
from catalogue.selectors.public.stores import sizes_at, store_names_at
from catalogue.views.common import page_gone, page_of
from core.templatetags.paging import pager
from core.web.jinja import fragment

PAGE = 24
SENT_MOST = 40
SCALE_LABEL = "Shoes on the stability scale, those that hold least first"
MAP_LABEL = "Shoes by midfoot score, from left to right, and rearfoot score, upwards; larger marks cushion more"


# Written for each page, the options of 500 stores took a sixth of it.
_store_options = per_revision(
    lambda revision: fragment("catalogue/store_options.html", stores=store_names_at(revision))
)


@dataclass(frozen=True, slots=True)
class Reader:
    """How a reader sees measures and sizes."""

    units: str
    sizes: str


@dataclass(frozen=True, slots=True)
class Results:
    """What a filter leaves, drawn: the same for every reader with the same units and system of sizes."""

    title: str
    description: str
    wanted: ShoeFilter
    summary: str
    place: str
    notices: tuple[str, ...]
    filters: SafeString
    markup: SafeString
    form: presentation.FilterForm


# A list that was asked for before costs a fifth of a new one: the first page, one band, one store.
@lru_cache(maxsize=128)
def results_of(wanted: ShoeFilter, reader: Reader, revision: Revision) -> Results:
    """Draw form, drawing and list."""
    bands = bands_at(revision)
    selection = selectors.select_shoes(wanted, revision=revision)
    counts = selection.counts([band.order for band in bands])
    page = page_of(counts.matching, wanted.page, PAGE)
    notice = page_gone(wanted.page, page)
    wanted = replace(wanted, page=page.number)
    selection = replace(selection, wanted=wanted)
    summary = presentation.summary(wanted, counts)
    form = presentation.FilterForm(
        url=presentation.list_url(),
        words=wanted.q,
        bands=presentation.band_options(wanted, bands, counts),
        uses=presentation.use_options(wanted, counts),
        wearers=presentation.wearer_options(wanted.wearer),
        widths=presentation.width_options(wanted.width, widths_offered(selection.columns)),
        photo=wanted.photo is not None,
        sizes=presentation.size_options(wanted.size, sizes_at(revision), reader.sizes),
        size_systems=presentation.size_system_options(reader.sizes),
        store=_chosen_store(wanted, revision),
        stores=_store_options(revision),
        orders=presentation.order_options(wanted.order),
        ranges=presentation.range_fields(wanted, reader.units),
        mass=presentation.mass_field(wanted, reader.units),
        mass_unit=presentation.mass_sign(reader.units),
        count=len(set(wanted.active()) - {"q"}),
        active=wanted.active(),
    )
    names = presentation.Names({band.order: band.name for band in bands}, store_names_at(revision))
    return Results(
        title=sharing.list_title(wanted, names, reader.units),
        description=sharing.list_description(summary),
        wanted=wanted,
        summary=summary,
        place=presentation.place_text(wanted, counts, page.start_index(), page.end_index()),
        notices=(notice,) if notice else (),
        filters=fragment("catalogue/filters.html", form=form),
        markup=_markup(selection, page, summary, reader, revision),
        form=form,
    )


def form_again(results: Results, sent: QueryDict, errors: Mapping[str, str]) -> SafeString:
    """Write the form with the numbers as they were sent, and what is wrong with them at their fields."""

    def as_sent(field: presentation.NumberField) -> presentation.NumberField:
        return replace(field, value=sent.get(field.key, field.value)[:SENT_MOST])

    ranges = [replace(field, ends=(as_sent(field.ends[0]), as_sent(field.ends[1]))) for field in results.form.ranges]
    form = replace(results.form, ranges=ranges, mass=as_sent(results.form.mass), errors=errors)
    return fragment("catalogue/filters.html", form=form)


def _chosen_store(wanted: ShoeFilter, revision: Revision) -> Option | None:
    return Option(wanted.store, store_names_at(revision)[wanted.store], is_chosen=True) if wanted.store else None


def _drawing(selection: Selection, listed: Ints, bands: Sequence[BandRow]) -> SafeString:
    if selection.wanted.view == "map":
        return drawings.score_map_markup(selection, listed, bands, MAP_LABEL)
    return drawings.scale_markup(selection, listed, bands, SCALE_LABEL)


def _markup(selection: Selection, page: Page[int], summary: str, reader: Reader, revision: Revision) -> SafeString:
    wanted, bands, units = selection.wanted, bands_at(revision), reader.units
    names = presentation.Names({band.order: band.name for band in bands}, store_names_at(revision))
    listed = selection.page(limit=PAGE, offset=(page.number - 1) * PAGE)
    shoes = selectors.listed_shoes(selection.columns, listed, wanted.store)
    published = selection.columns.count
    return fragment(
        "catalogue/results.html",
        summary=summary,
        published=published,
        is_counted=published > drawings.COUNTED_FROM,
        chips=presentation.chips(wanted, names, units),
        heads=presentation.sort_heads(wanted),
        words=wanted.q,
        only_words=wanted.active() == ("q",),
        meant=_meant(wanted, revision) if not len(listed) else None,
        everything_url=presentation.everything_address(wanted),
        view=wanted.view,
        views=presentation.view_links(wanted),
        drawing=_drawing(selection, listed, bands) if published else "",
        shoes=[presentation.listed_text(shoe, units, reader.sizes) for shoe in shoes],
        stock_at=names.stores[wanted.store] if wanted.store else "",
        loosened=presentation.loosen(wanted, {} if shoes else selection.left_without_each(), names, units),
        compare_url=reverse("catalogue:shoe-compare"),
        pager=_pager(page, wanted),
    )


@dataclass(frozen=True, slots=True)
class Meant:
    """Other words that were probably meant, and the list of the shoes that have them."""

    words: str
    url: str


def _meant(wanted: ShoeFilter, revision: Revision) -> Meant | None:
    words = selectors.did_you_mean(wanted.q, revision=revision) if wanted.q else None
    return Meant(words, presentation.list_address(replace(wanted, q=words, page=1))) if words else None


def _pager(page: Page[int], wanted: ShoeFilter) -> SafeString:
    # The heading of the results says how many there are.
    if page.paginator.num_pages == 1:
        return SafeString("")
    context = pager(Context(), page, noun="shoes", target="results", query=wanted.query())
    return render_to_string("components/pager.html", context)
