"""The public pages."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeVar

from django.core.paginator import EmptyPage, Page, Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.views.decorators.http import require_safe

from catalogue import drawings, forms, method, presentation, selectors
from catalogue.caching import page_by_revision
from catalogue.filters import ShoeFilter
from catalogue.selectors import ShoeRow
from catalogue.selectors.scales import bands_at
from catalogue.selectors.stores import sizes_at, stores_at
from core import display
from core.context import units_of
from core.errors import DomainError
from core.permissions import PUBLIC, gate

PAGE = 24
NEAREST_SHOWN = 4
SPECTRUM_LABEL = "Shoes on the stability scale, flexible to very firm"

FoundT = TypeVar("FoundT")


def _or_404(read: Callable[..., FoundT], *args: Any, **kwargs: Any) -> FoundT:
    """Call a read that may not find its record, which may have been withdrawn since the page's revision was read."""
    try:
        return read(*args, **kwargs)
    except DomainError as problem:
        if problem.status != 404:
            raise
        raise Http404(problem.message) from problem


def _refuse(request: HttpRequest, problem: forms.BadQuery) -> HttpResponse:
    """Answer a query that can't be read, naming each bad value."""
    template = "catalogue/_problems.html" if _is_part(request) else "400.html"
    return render(request, template, {"problems": problem.problems}, status=400)


def _is_part(request: HttpRequest) -> bool:
    """Say whether only the results are wanted, to be put into a page that is already there."""
    asked: Any = getattr(request, "htmx", None)
    return bool(asked) and not asked.history_restore_request


def _page(count: int, number: int, size: int = PAGE) -> Page[int]:
    """Return where one is in a list that is read page by page."""
    paginator = Paginator(range(count), size)
    try:
        return paginator.page(number)
    except EmptyPage as problem:
        raise forms.page_beyond(number, paginator.num_pages) from problem


@dataclass(frozen=True, slots=True)
class Results:
    """What a filter leaves, drawn: the same for every reader with the same units."""

    summary: str
    markup: SafeString
    bands: tuple[presentation.Option, ...]
    uses: tuple[presentation.Option, ...]


@lru_cache(maxsize=64)
def _results(wanted: ShoeFilter, units: str, revision: str) -> Results:
    """Draw the spectrum and the list; kept as long as the catalogue stays as it is."""
    bands, stores = bands_at(revision), stores_at(revision)
    names = {band.order: band.name for band in bands}
    counts = selectors.filter_counts(wanted, list(names))
    page = _page(counts.matching, wanted.page)
    shoes = selectors.shoe_list(wanted, limit=PAGE, offset=(page.number - 1) * PAGE)
    points = selectors.spectrum_points(wanted)
    summary = presentation.summary(wanted, counts)
    context = {
        "summary": summary,
        "counts": counts,
        "page": page,
        "query": wanted.query(),
        "shoes": [presentation.shoe_text(shoe, units) for shoe in shoes],
        "spectrum": drawings.markup(points, bands, drawings.spectrum_styles(len(points)), SPECTRUM_LABEL),
        "chips": presentation.chips(wanted, counts, names, {store.slug: store.name for store in stores}),
        "everything_url": presentation.everything_address(wanted),
    }
    return Results(
        summary=summary,
        markup=SafeString(render_to_string("catalogue/_results.html", context)),
        bands=tuple(presentation.band_options(wanted, bands, counts)),
        uses=tuple(presentation.use_options(wanted, counts)),
    )


@gate(PUBLIC)
@require_safe
@page_by_revision
def shoe_list(request: HttpRequest, *, revision: str) -> HttpResponse:
    choices = forms.Choices(
        {band.order: band.name for band in bands_at(revision)},
        frozenset(store.slug for store in stores_at(revision)),
    )
    try:
        wanted = forms.shoe_filter(request.GET, choices)
        results = _results(wanted, units_of(request), revision)
    except forms.BadQuery as problem:
        return _refuse(request, problem)
    if _is_part(request):
        response = render(request, "catalogue/_results_part.html", {"results": results})
        response.headers["HX-Push-Url"] = presentation.list_address(wanted)
        return response
    context = {"wanted": wanted, "results": results, **_form_context(wanted, revision)}
    return render(request, "catalogue/shoe_list.html", context)


def _form_context(wanted: ShoeFilter, revision: str) -> dict[str, Any]:
    """Return what the filter's form offers beyond bands and uses."""
    return {
        "stores": presentation.store_options(wanted, stores_at(revision)),
        "sizes": presentation.size_options(wanted, sizes_at(revision)),
        "orders": presentation.order_options(wanted),
        "ranges": presentation.range_fields(wanted),
        "mass_max": presentation.plain(wanted.mass_max),
        "has_more": bool(set(wanted.active()) - {"q", "band"}),
    }


def _strip(shoes: Sequence[ShoeRow], revision: str) -> SafeString:
    """Draw a few shoes on the scale, for wide screens and for phones."""
    points = [presentation.point_of(shoe) for shoe in shoes]
    label = f"{display.listed([shoe.title for shoe in shoes])} on the stability scale"
    return drawings.markup(points, bands_at(revision), (drawings.STRIP, drawings.STRIP_SMALL), label)


@gate(PUBLIC)
@require_safe
@page_by_revision
def shoe_detail(request: HttpRequest, *, slug: str, revision: str) -> HttpResponse:
    shoe = _or_404(selectors.shoe_get, slug)
    units = units_of(request)
    near = _or_404(selectors.similar_to, slug, revision=revision, limit=NEAREST_SHOWN)
    context = {
        "shoe": shoe,
        "strip": _strip([shoe], revision),
        "scores": presentation.score_texts(shoe, selectors.ranks_for_shoe(shoe)),
        "band_notes": presentation.band_notes(shoe),
        "facts": presentation.shoe_facts(shoe, units),
        "measured": presentation.measured_facts(shoe),
        "stock": presentation.stock_lines(shoe),
        "near": [presentation.similar_text(other, units) for other in near],
        "versions": selectors.versions_for_shoe(shoe),
        "history": selectors.history_for_shoe(shoe),
    }
    return render(request, "catalogue/shoe_detail.html", context)


@gate(PUBLIC)
@require_safe
@page_by_revision
def shoe_similar(request: HttpRequest, *, slug: str, revision: str) -> HttpResponse:
    shoe = _or_404(selectors.shoe_get, slug)
    try:
        page = _page(_or_404(selectors.similar_count, slug, revision=revision), forms.page_number(request.GET), 12)
    except forms.BadQuery as problem:
        return _refuse(request, problem)
    near = _or_404(selectors.similar_to, slug, revision=revision, limit=12, offset=(page.number - 1) * 12)
    units = units_of(request)
    context = {
        "shoe": shoe,
        "text": presentation.shoe_text(shoe, units),
        "near": [presentation.similar_text(other, units) for other in near],
        "page": page,
    }
    return render(request, "catalogue/shoe_similar.html", context)


@gate(PUBLIC)
@require_safe
@page_by_revision
def shoe_compare(request: HttpRequest, *, revision: str) -> HttpResponse:
    try:
        slugs = forms.compared_slugs(request.GET)
        shoes = selectors.shoes_by_slug(slugs)
        if len(shoes) < len(slugs):
            known = {shoe.slug for shoe in shoes}
            raise forms.unknown_shoes([slug for slug in slugs if slug not in known])
    except forms.BadQuery as problem:
        return _refuse(request, problem)
    units = units_of(request)
    differences = _or_404(selectors.compare, slugs, revision=revision) if shoes else []
    context = {
        "shoes": [presentation.shoe_text(shoe, units) for shoe in shoes],
        "rows": presentation.compared_rows(shoes, differences, units) if shoes else [],
        "strip": _strip(shoes, revision),
        "others": presentation.other_options(selectors.spectrum_points(ShoeFilter()), slugs),
    }
    return render(request, "catalogue/shoe_compare.html", context)


@gate(PUBLIC)
@require_safe
@page_by_revision
def store_list(request: HttpRequest, *, revision: str) -> HttpResponse:
    return render(request, "catalogue/store_list.html", {"stores": stores_at(revision)})


@gate(PUBLIC)
@require_safe
@page_by_revision
def store_detail(request: HttpRequest, *, slug: str, revision: str) -> HttpResponse:
    store = _or_404(selectors.store_get, slug)
    try:
        page = _page(store.shoes, forms.page_number(request.GET), 50)
    except forms.BadQuery as problem:
        return _refuse(request, problem)
    units = units_of(request)
    shoes = selectors.stock_for_store(slug, limit=50, offset=(page.number - 1) * 50)
    context = {"store": store, "shoes": [presentation.shoe_text(shoe, units) for shoe in shoes], "page": page}
    return render(request, "catalogue/store_detail.html", context)


@gate(PUBLIC)
@require_safe
@page_by_revision
def how_we_measure(request: HttpRequest, *, revision: str) -> HttpResponse:
    context = {
        "bands": presentation.band_lines(bands_at(revision)),
        "in_use": selectors.models_in_use(),
        "tables": method.tables(units_of(request)),
    }
    return render(request, "catalogue/method.html", context)
