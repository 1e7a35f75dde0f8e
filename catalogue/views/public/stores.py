"""The public pages of the stores."""

from __future__ import annotations

from functools import wraps
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from catalogue import forms, presentation, selectors
from catalogue.presentation import sharing
from catalogue.presentation.stores import by_band, wall_by_band
from catalogue.presentation.structured_data import structured_store
from catalogue.selectors import Revision
from catalogue.selectors.public.scales import bands_at
from catalogue.selectors.public.stores import stores_at
from catalogue.views.caching import page_by_revision
from catalogue.views.common import View, or_404, page_gone, page_of, refuse
from catalogue.views.size_system import size_system_of
from core.gate.access import PUBLIC, gate
from core.gate.context import units_of

PAGE = 50


@gate(PUBLIC)
@require_safe
@page_by_revision
def store_list(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    return render(request, "catalogue/store_list.html", {"stores": stores_at(revision), "canonical": request.path})


def lead_from_closed_store(view: View) -> View:
    """Lead to the stores that there are where a link names one that is closed."""

    @wraps(view)
    def inner(request: HttpRequest, *, slug: str, **kwargs: Any) -> HttpResponseBase:
        try:
            return view(request, slug=slug, **kwargs)
        except Http404:
            messages.info(request, f"We have no store “{slug}”. These are our stores.")
            return redirect("catalogue:store-list")

    return inner


@gate(PUBLIC)
@require_safe
@lead_from_closed_store
@page_by_revision
def store_detail(request: HttpRequest, *, slug: str, revision: Revision) -> HttpResponse:
    store = or_404(selectors.store_get, slug)
    try:
        asked = forms.page_number(request.GET)
    except forms.BadQuery as problem:
        return refuse(request, problem)
    page = page_of(store.shoes, asked, PAGE)
    units, system = units_of(request), size_system_of(request)
    shoes = selectors.stock_for_store(slug, limit=PAGE, offset=(page.number - 1) * PAGE)
    context = {
        "store": store,
        "canonical": request.path,
        "description": sharing.store_description(store),
        "structured": structured_store(store),
        "wall": wall_by_band(slug, bands_at(revision), selectors.shoes_by_band(slug)),
        "groups": by_band([presentation.shoe_text(shoe, units, system, slug) for shoe in shoes]),
        "size_systems": presentation.size_system_options(system),
        "page": page,
        "notice": page_gone(asked, page),
    }
    return render(request, "catalogue/store_detail.html", context)
