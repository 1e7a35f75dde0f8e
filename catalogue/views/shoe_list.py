"""The list of shoes."""

from __future__ import annotations

from functools import lru_cache

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from catalogue import forms, presentation
from catalogue.selectors import Revision
from catalogue.selectors.scales import bands_at
from catalogue.selectors.stores import store_names_at
from catalogue.views.answers import is_part, refuse
from catalogue.views.caching import page_by_revision
from catalogue.views.frames import list_page
from catalogue.views.list_results import results_of
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
