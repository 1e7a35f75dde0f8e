"""What the pages of fittings have in common: refusals as pages, lists of shoes to pick from."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from core.errors import DomainError
from core.models import User

View = Callable[..., HttpResponse]


def refusals_as_pages(view: View) -> View:
    """Turn an expected failure into a page of its status, with its message."""

    @wraps(view)
    def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return view(request, *args, **kwargs)
        except DomainError as problem:
            if problem.status == 404:
                raise Http404(problem.message) from problem
            context = {"message": problem.message, "status": problem.status}
            return render(request, "fittings/refused.html", context, status=problem.status)

    return answer


def actor_of(request: HttpRequest) -> User:
    """The user, whom the gate has let in and who is therefore no anonymous one."""
    return cast(User, request.user)


def add_problems(form: forms.Form, problem: DomainError) -> None:
    """Put what a service refused beside the fields it names, or above the form."""
    for name, messages in problem.fields.items():
        for text in messages:
            form.add_error(name if name in form.fields else None, text)
    if not problem.fields:
        form.add_error(None, problem.message)
