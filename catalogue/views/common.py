"""What the public views share: refusing a query by its values, pages of a list, records that are gone."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, HttpResponsePermanentRedirect
from django.shortcuts import render
from django.urls import reverse

from catalogue import forms
from catalogue.presentation.problems import sentences_with_labels
from catalogue.selectors.records.shoe_records import current_address
from core.domain.errors import DomainError

FoundT = TypeVar("FoundT")


def or_404(read: Callable[..., FoundT], *args: Any, **kwargs: Any) -> FoundT:
    """Call a read that may not find its record, which may have been withdrawn since the page's revision was read."""
    try:
        return read(*args, **kwargs)
    except DomainError as problem:
        if problem.status != 404:
            raise
        raise Http404(problem.message) from problem


View = Callable[..., HttpResponseBase]


def lead_from_old_address(view: View) -> View:
    """Lead to the present address of a shoe where a page is asked for by an earlier one, or by that of a duplicate."""

    @wraps(view)
    def inner(request: HttpRequest, *, slug: str, **kwargs: Any) -> HttpResponseBase:
        try:
            return view(request, slug=slug, **kwargs)
        except Http404:
            address = current_address(slug)
            if address in (None, slug):
                raise
        messages.info(request, "Your link was an old one. This shoe has this address now.")
        here: Any = request.resolver_match
        query = request.META.get("QUERY_STRING", "")
        return HttpResponsePermanentRedirect(reverse(here.view_name, args=[address]) + (f"?{query}" if query else ""))

    return inner


def refuse(request: HttpRequest, problem: forms.BadQuery) -> HttpResponse:
    """Answer a query that can't be read, naming each bad value."""
    template = "catalogue/_problems.html" if is_part(request) else "400.html"
    return render(request, template, {"problems": sentences_with_labels(problem)}, status=400)


def is_part(request: HttpRequest) -> bool:
    """Say whether only the results are wanted, to be put into a page that is already there."""
    asked: Any = getattr(request, "htmx", None)
    return bool(asked) and not asked.history_restore_request


def page_of(count: int, number: int, size: int) -> Page[int]:
    """Return where one is in a list that is read page by page: the last page where the one asked for is gone."""
    return Paginator(range(count), size).get_page(number)


def page_gone(number: int, page: Page[int]) -> str:
    """Say that a page is gone and which one is shown instead; "" where it is the one that was asked for."""
    if number == page.number:
        return ""
    return f"Page {number} no longer exists. This is the last page, {page.number}."
