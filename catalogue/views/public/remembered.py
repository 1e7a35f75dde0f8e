"""Shoes that a visitor remembers: named by the address, stored nowhere here."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from catalogue import forms, selectors
from catalogue.presentation.remembered import remembered_shoes, side_by_side_url
from catalogue.selectors import Revision
from catalogue.selectors.records.shoe_records import current_addresses
from catalogue.views.caching import page_by_revision
from catalogue.views.common import refuse
from core.gate.access import PUBLIC, gate
from core.gate.context import units_of

MOST = 24


@gate(PUBLIC)
@require_safe
@page_by_revision
def remembered(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    try:
        slugs = forms.named_slugs(request.GET, most=MOST)
    except forms.BadQuery as problem:
        return refuse(request, problem)
    shoes = selectors.shoes_by_slug(slugs)
    known = [shoe.slug for shoe in shoes]
    if set(slugs) - set(known) and (moved := _moved(slugs, known)) != slugs:
        messages.info(request, "Your link was an old one. Some of these shoes have another address now.")
        return redirect(f"{request.path}?{urlencode([('shoe', slug) for slug in moved])}", permanent=True)
    context = {
        "shoes": remembered_shoes(shoes, units_of(request)),
        "left_out": [slug for slug in slugs if slug not in known],
        "compare_url": side_by_side_url(known, most=forms.COMPARED_MOST),
        "slugs": " ".join(slugs),
    }
    return render(request, "catalogue/remembered.html", context)


def _moved(slugs: Sequence[str], known: Collection[str]) -> tuple[str, ...]:
    """Put present addresses in the place of earlier ones."""
    moved = current_addresses([slug for slug in slugs if slug not in known])
    return tuple(dict.fromkeys(moved.get(slug, slug) for slug in slugs))
