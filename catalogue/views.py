"""The public pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.views.decorators.http import require_safe

from catalogue import drawings, evidence, forms, method, presentation, selectors, writing
from catalogue.answers import is_part, page_of, refuse
from catalogue.caching import page_by_revision, page_by_revision_and
from catalogue.domain.sieve import Ints
from catalogue.filters import ShoeFilter
from catalogue.frames import list_page
from catalogue.selectors import BandRow, Finding, Revision
from catalogue.selectors.scales import bands_at
from catalogue.selectors.stores import sizes_at, store_names_at
from core.context import units_of
from core.permissions import PUBLIC, gate

PAGE = 24
SPECTRUM_LABEL = "Shoes on the stability scale, flexible to very firm"
PLANE_LABEL = "Shoes by midfoot score, from left to right, and rearfoot score, upwards; larger marks cushion more"


@dataclass(frozen=True, slots=True)
class Results:
    """What a filter leaves, drawn: the same for every reader with the same units."""

    summary: str
    filters: SafeString
    markup: SafeString
    bands: tuple[presentation.Option, ...]
    uses: tuple[presentation.Option, ...]


def _drawing(finding: Finding, listed: Ints, bands: Sequence[BandRow]) -> SafeString:
    if finding.wanted.view == "map":
        return drawings.plane_markup(finding, listed, bands, PLANE_LABEL)
    return drawings.scale_markup(finding, listed, bands, SPECTRUM_LABEL)


@lru_cache(maxsize=128)
def _results(wanted: ShoeFilter, units: str, revision: Revision) -> Results:
    """Draw the spectrum and the list; kept as long as the catalogue stays as it is."""
    bands, stores = bands_at(revision), store_names_at(revision)
    finding = selectors.find(wanted, revision=revision)
    counts = finding.counts([band.order for band in bands])
    page = page_of(counts.matching, wanted.page, PAGE)
    listed = finding.page(limit=PAGE, offset=(page.number - 1) * PAGE)
    summary = presentation.summary(wanted, counts)
    names = presentation.Names({band.order: band.name for band in bands}, {store.slug: store.name for store in stores})
    context = {
        "summary": summary,
        "counts": counts,
        "page": page,
        "query": wanted.query(),
        "views": presentation.view_links(wanted),
        "view": wanted.view,
        "is_counted": counts.published > drawings.COUNTED_FROM,
        "rows": writing.shoe_rows([presentation.shoe_text(shoe, units) for shoe in finding.read(listed)]),
        "drawing": _drawing(finding, listed, bands) if counts.published else "",
        "chips": presentation.chips(wanted, names),
        "loosen": presentation.loosen(wanted, {} if counts.matching else finding.let_go(), names),
        "everything_url": presentation.everything_address(wanted),
    }
    choices = {
        "bands": tuple(presentation.band_options(wanted, bands, counts)),
        "uses": tuple(presentation.use_options(wanted, counts)),
    }
    form = {"wanted": wanted, "units": units, **choices, **_form_context(wanted, revision)}
    return Results(
        summary=summary,
        filters=render_to_string("catalogue/_filters.html", form),
        markup=render_to_string("catalogue/_results.html", context),
        **choices,
    )


@gate(PUBLIC)
@require_safe
@page_by_revision
def shoe_list(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    choices = forms.Choices(
        {band.order: band.name for band in bands_at(revision)},
        frozenset(store.slug for store in store_names_at(revision)),
    )
    try:
        wanted = forms.shoe_filter(request.GET, choices)
        results = _results(wanted, units_of(request), revision)
    except forms.BadQuery as problem:
        return refuse(request, problem)
    if is_part(request):
        response = render(request, "catalogue/_results_part.html", {"results": results})
        response.headers["HX-Push-Url"] = presentation.list_address(wanted)
        return response
    return list_page(request, results, presentation.list_address(wanted))


def _form_context(wanted: ShoeFilter, revision: Revision) -> dict[str, Any]:
    """Return what the filter's form offers beyond bands and uses."""
    return {
        "stores": presentation.store_options(wanted.store, store_names_at(revision)),
        "sizes": presentation.size_options(wanted.size, sizes_at(revision)),
        "orders": presentation.order_options(wanted.order),
        "ranges": presentation.range_fields(wanted),
        "mass_max": presentation.plain(wanted.mass_max),
        "has_more": bool(set(wanted.active()) - {"q", "band"}),
    }


@gate(PUBLIC)
@require_safe
@page_by_revision_and(method.mark)
def how_we_measure(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    units, lab, in_use = units_of(request), method.lab(), selectors.models_in_use()
    context = {
        "bands": presentation.band_lines(bands_at(revision)),
        "in_use": in_use,
        "tables": lab.tables(units) if lab else [],
        "procedure": lab.procedure(units) if lab else None,
        "formulas": lab.formulas(units, [line.scoring_model for line in in_use]) if lab else [],
        "evidence": presentation.evidence_lines(),
        "others": evidence.OTHERS,
        "canonical": request.path,
    }
    return render(request, "catalogue/method.html", context)
