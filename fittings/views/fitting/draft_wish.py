"""Asking head office for a recommended shoe in a size that is not here, from the page of a fitting."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.html import format_html
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from catalogue.models import Shoe
from catalogue.services import wish_ask
from core.domain.errors import DomainError
from core.gate.access import gate
from core.models import Store
from core.web.requests import actor_of
from fittings.domain.shoes.sizing import read_eu_size
from fittings.selectors.fitting.drafts import draft_state
from fittings.views.common import domain_errors_as_pages
from fittings.views.fitting.draft_store import draft_store

ASK = "catalogue.wish:ask"
WISH_NAME_MAX = 80
NOTE = "A size asked for at a fitting; the shoe is in the catalogue."


@gate(ASK)
@never_cache
@require_POST
@domain_errors_as_pages
def draft_wish(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """Ask for a shoe in a size; the answer replaces the button."""
    store, _ = draft_store(request, draft_state(request.user, key))
    try:
        said = size_ask(request, store, request.POST.get("shoe", ""), request.POST.get("size", ""))
    except DomainError as problem:
        said = problem.message
    return HttpResponse(format_html("<p>{}</p>", said))


def size_ask(request: HttpRequest, store: Store, slug: str, size: str) -> str:
    """Ask for a shoe in a size, and say that it was asked for.

    Raises
    ------
    DomainError
        400 for a shoe or size that is none, 409 where the store asked for it already.
    """
    shoe = Shoe.objects.select_related("brand").filter(slug=slug.replace("\x00", "")).first()
    if shoe is None:
        raise DomainError("This shoe is no longer in the catalogue. Calculate the match again.", code="invalid")
    try:
        size_eu = read_eu_size(size)
    except (TypeError, ValueError) as problem:
        raise DomainError(str(problem), code="invalid") from problem
    name = f", EU {float(size_eu):g}"
    name = shoe.title[: WISH_NAME_MAX - len(name)] + name
    wish_ask(actor=actor_of(request), store=store, brand=shoe.brand.name, name=name, note=NOTE)
    return f"Asked for: {shoe.brand.name} {name}. The answer appears under “Ask for a shoe”."


def size_ask_noted(request: HttpRequest, store: Store, slug: str, size: str) -> None:
    """Ask for a shoe in a size and leave a message for the next page, whatever came of it."""
    try:
        messages.success(request, size_ask(request, store, slug, size))
    except DomainError as problem:
        messages.warning(request, problem.message)
