"""What the lab's views share."""

from __future__ import annotations

from typing import TypeVar

from django.core.paginator import Page, Paginator
from django.db.models import Model, QuerySet
from django.http import HttpRequest

from labtests import permissions as permissions  # registers the actions that the views name

PAGE = 50

RowT = TypeVar("RowT", bound=Model)


def page_of(rows: QuerySet[RowT], request: HttpRequest, size: int = PAGE) -> Page[RowT]:
    return Paginator(rows, size).get_page(request.GET.get("page"))
