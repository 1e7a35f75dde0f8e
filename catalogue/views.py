"""The public pages."""

from __future__ import annotations

from functools import lru_cache

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from catalogue import evidence, forms, method, presentation, selectors
from catalogue.answers import is_part, refuse
from catalogue.caching import page_by_revision, page_by_revision_and
from catalogue.frames import list_page
from catalogue.listing import results_of
from catalogue.selectors import Revision
from catalogue.selectors.scales import bands_at
from catalogue.selectors.stores import store_names_at
from core.gate.context import units_of
from core.gate.permissions import PUBLIC, gate


@lru_cache(maxsize=2)
def _choices(revision: Revision) -> forms.Choices:
    return forms.Choices(
        {band.order: band.name for band in bands_at(revision)},
        frozenset(store.slug for store in store_names_at(revision)),
    )


@gate(PUBLIC)
@require_safe
@page_by_revision
def shoe_list(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    choices = _choices(revision)
    try:
        wanted = forms.shoe_filter(request.GET, choices)
        results = results_of(wanted, units_of(request), revision)
    except forms.BadQuery as problem:
        return refuse(request, problem)
    if is_part(request):
        response = render(request, "catalogue/_results_part.html", {"results": results})
        response.headers["HX-Push-Url"] = presentation.list_address(wanted)
        return response
    return list_page(request, results, presentation.list_address(wanted))


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
