"""`{% load paging %}{% pager page_obj %}`: links between the pages of a list that keep the rest of the query string."""

from __future__ import annotations

from typing import Any

from django import template
from django.core.paginator import Page
from django.http import QueryDict
from django.template.context import Context

register = template.Library()


def page_address(query: QueryDict, number: int) -> str:
    """Return the address of another page of the same list; the first page needs no page number."""
    parameters = query.copy()
    parameters.pop("page", None)
    if number > 1:
        parameters["page"] = str(number)
    return f"?{parameters.urlencode()}"


def singular(nouns: str) -> str:
    """Return the singular of a noun: "entry" for "entries"."""
    return f"{nouns.removesuffix('ies')}y" if nouns.endswith("ies") else nouns.removesuffix("s")


@register.inclusion_tag("components/pager.html", takes_context=True)
def pager(
    context: Context, page: Page[Any], noun: str = "rows", target: str = "", query: str | None = None
) -> dict[str, Any]:
    """Render the pager; `query` replaces the request's query string where the list is rendered without a request."""
    request = context.get("request")
    given = QueryDict(query or "") if query is not None or request is None else request.GET
    return {
        "first": page.start_index(),
        "last": page.end_index(),
        "count": page.paginator.count,
        "number": page.number,
        "pages": page.paginator.num_pages,
        "previous_url": page_address(given, page.previous_page_number()) if page.has_previous() else None,
        "next_url": page_address(given, page.next_page_number()) if page.has_next() else None,
        "noun": singular(noun) if page.paginator.count == 1 else noun,
        "target": target,
    }
