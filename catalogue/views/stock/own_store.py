"""What the working pages of a store share: who is there, which store, and the choice where somebody has several."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core.accounts.selectors import store_for
from core.gate.access import allowed
from core.models import Store
from core.web.requests import actor_of


def own_store(request: HttpRequest, slug: str, action: str) -> Store:
    """Return a store that the reader may do this in; one where they only work is refused, any other is not there."""
    store, may = store_for(actor_of(request), slug, action)
    if not may:
        raise PermissionDenied("Your role does not allow this.")
    return store


def choose_store(request: HttpRequest, action: str, url_name: str, title: str) -> HttpResponse:
    """Lead to the page of the reader's store, or let those of several stores choose one."""
    held = {row.store_id: row.store for row in actor_of(request).memberships_held() if row.store is not None}
    stores = [store for store in held.values() if allowed(request.user, action, store)]
    if len(stores) == 1:
        return redirect(url_name, stores[0].slug)
    return render(request, "catalogue/wall_choose.html", {"stores": stores, "url_name": url_name, "title": title})
