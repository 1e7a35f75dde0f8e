"""What the working pages of a store share: who is there, which store, and the choice where somebody has several."""

from __future__ import annotations

from typing import cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core.account_selectors import store_for
from core.models import Store, User
from core.permissions import allowed


def person(request: HttpRequest) -> User:
    """Return who is signed in; the gate has seen to it that somebody is."""
    return cast("User", request.user)


def own_store(request: HttpRequest, slug: str, action: str) -> Store:
    """Return a store that the reader may do this in; one where they only work is refused, any other is not there."""
    store, may = store_for(person(request), slug, action)
    if not may:
        raise PermissionDenied("Your role does not allow this.")
    return store


def choose_store(request: HttpRequest, action: str, url_name: str, title: str) -> HttpResponse:
    """Lead to the page of the reader's store, or let those of several stores choose one."""
    held = {row.store_id: row.store for row in person(request).memberships_held() if row.store is not None}
    stores = [store for store in held.values() if allowed(request.user, action, store)]
    if len(stores) == 1:
        return redirect(url_name, stores[0].slug)
    return render(request, "catalogue/wall_choose.html", {"stores": stores, "url_name": url_name, "title": title})
