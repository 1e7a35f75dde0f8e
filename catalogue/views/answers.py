"""What the public views share: refusing a query by its values, pages of a list, records that are gone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from django.core.paginator import EmptyPage, Page, Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from catalogue import forms
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


def refuse(request: HttpRequest, problem: forms.BadQuery) -> HttpResponse:
    """Answer a query that can't be read, naming each bad value."""
    template = "catalogue/_problems.html" if is_part(request) else "400.html"
    return render(request, template, {"problems": problem.problems}, status=400)


def is_part(request: HttpRequest) -> bool:
    """Say whether only the results are wanted, to be put into a page that is already there."""
    asked: Any = getattr(request, "htmx", None)
    return bool(asked) and not asked.history_restore_request


def page_of(count: int, number: int, size: int) -> Page[int]:
    """Return where one is in a list that is read page by page."""
    paginator = Paginator(range(count), size)
    try:
        return paginator.page(number)
    except EmptyPage as problem:
        raise forms.page_beyond(number, paginator.num_pages) from problem
