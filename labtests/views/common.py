"""What the lab's views share."""

from __future__ import annotations

from typing import TypeVar, cast

from django import forms
from django.core.paginator import Page, Paginator
from django.db.models import Model, QuerySet
from django.http import HttpRequest

from core.errors import DomainError
from core.models import User
from labtests import permissions as permissions  # registers the actions that the views name

PAGE = 50

RowT = TypeVar("RowT", bound=Model)


def actor_of(request: HttpRequest) -> User:
    """The user, whom the gate has let in and who is therefore no anonymous one."""
    return cast(User, request.user)


def page_of(rows: QuerySet[RowT], request: HttpRequest, size: int = PAGE) -> Page[RowT]:
    return Paginator(rows, size).get_page(request.GET.get("page"))


def add_problem(form: forms.Form, problem: DomainError) -> None:
    """Put what a service refused beside the fields that it names, or above the form."""
    known = {name: words for name, words in problem.fields.items() if name in form.fields}
    for name, words in known.items():
        for sentence in words:
            form.add_error(name, sentence)
    if not known:
        form.add_error(None, problem.message)
