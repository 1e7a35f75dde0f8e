"""The list of shoes."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from catalogue import forms, presentation
from catalogue.selectors import Revision
from catalogue.selectors.scales import bands_at
from catalogue.selectors.stores import store_names_at
from catalogue.views.answers import is_part, refuse
from catalogue.views.caching import page_by_revision
from catalogue.views.list_results import results_of
from catalogue.views.visitor_frame import list_page
from core.gate.context import units_of
from core.gate.permissions import PUBLIC, gate


@gate(PUBLIC)
@require_safe
@page_by_revision
def shoe_list(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    choices = forms.Choices({band.order: band.name for band in bands_at(revision)}, store_names_at(revision))
    try:
        wanted = forms.shoe_filter(request.GET, choices)
        results = results_of(wanted, units_of(request), revision)
    except forms.BadQuery as problem:
        return refuse(request, problem)
    address = presentation.list_address(wanted)
    if is_part(request):
        response = render(request, "catalogue/_results_part.html", {"results": results})
        response.headers["HX-Push-Url"] = address
        return response
    return list_page(request, results, address)
