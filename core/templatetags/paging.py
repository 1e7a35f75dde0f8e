"""`{% load paging %}{% pager page_obj %}`: where one is in a list, keeping the rest of the query string."""

from __future__ import annotations

from typing import Any

from django import template
from django.core.paginator import Page
from django.http import QueryDict
from django.template.context import Context

register = template.Library()


def page_address(query: QueryDict, number: int) -> str:
    """Return the address of another page of the list at hand; the first page has none in it."""
    kept = query.copy()
    kept.pop("page", None)
    if number > 1:
        kept["page"] = str(number)
    return f"?{kept.urlencode()}"


def one_of(nouns: str) -> str:
    """Say one of what is counted: "entries" are each an "entry"."""
    return f"{nouns.removesuffix('ies')}y" if nouns.endswith("ies") else nouns.removesuffix("s")


@register.inclusion_tag("components/pager.html", takes_context=True)
def pager(
    context: Context, page: Page[Any], noun: str = "rows", target: str = "", query: str | None = None
) -> dict[str, Any]:
    """Draw the pager; `query` stands in for the request's query string where the list is drawn without a request."""
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
        "noun": one_of(noun) if page.paginator.count == 1 else noun,
        "target": target,
    }
