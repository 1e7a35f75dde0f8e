"""The store of a fitting that is being recorded."""

from __future__ import annotations

from django.http import HttpRequest

from core.models import Store
from core.web.requests import actor_of
from fittings.domain.refusals import not_your_store
from fittings.selectors.fitting.drafts import DraftState


def draft_store(request: HttpRequest, state: DraftState) -> tuple[Store, list[Store]]:
    """The store of the fitting and those that one may choose from; once begun it stays where it is."""
    if state.store is not None:
        return state.store, [state.store]
    stores = list(Store.objects.filter(pk__in=actor_of(request).store_ids()))
    wanted = request.POST.get("store", request.GET.get("store", ""))
    if wanted and wanted not in {store.slug for store in stores}:
        raise not_your_store()
    return next((store for store in stores if store.slug == wanted), stores[0]), stores
