"""Answers that need attention: the list, one answer, taking it over and closing it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.access import gate
from core.web.forms import add_problem
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings import services
from fittings.domain.fitting.referral import TO_SAY
from fittings.forms.people.concern import CloseForm, SignsForm
from fittings.models import AnswerConcern
from fittings.presentation.people import concerns as presentation
from fittings.selectors.people.concerns import concern_get, concerns_closed, concerns_open, signs_asked
from fittings.views.common import domain_errors_as_pages

PAGE = 30
CLOSED_SHOWN = 10
READ, WRITE = "fittings.concern:read", "fittings.concern:write"


@gate(READ)
@never_cache
@require_safe
def concern_list(request: HttpRequest) -> HttpResponse:
    """The open answers of the reader's stores, the earliest deadline first, and those closed last."""
    actor, today = actor_of(request), timezone.localdate()
    page = Paginator(concerns_open(actor), PAGE).get_page(request.GET.get("page"))
    context = {
        "page_obj": page,
        "lines": [presentation.concern_line(item, today) for item in page.object_list],
        "closed": [presentation.concern_line(item, today) for item in concerns_closed(actor)[:CLOSED_SHOWN]],
    }
    return render(request, "fittings/concern_list.html", context)


@gate(READ)
@never_cache
@require_safe
@domain_errors_as_pages
def concern_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, concern_get(actor_of(request), pk))


def _page(
    request: HttpRequest,
    concern: AnswerConcern,
    *,
    close: CloseForm | None = None,
    signs: SignsForm | None = None,
) -> HttpResponse:
    context: dict[str, Any] = {
        "concern": concern,
        "fitting": concern.follow_up.fitting,
        "line": presentation.concern_line(concern, timezone.localdate()),
        "signs_said": presentation.sign_words(concern),
        "to_say": TO_SAY,
        "close_form": close or CloseForm(),
        "signs_form": signs or SignsForm(signs=signs_asked(concern)),
    }
    return render(request, "fittings/concern_detail.html", context, status=400 if close or signs else 200)


@gate(WRITE)
@require_POST
@domain_errors_as_pages
def concern_take(request: HttpRequest, pk: int) -> HttpResponse:
    actor = actor_of(request)
    services.concern_take_over(actor=actor, concern=concern_get(actor, pk))
    messages.success(request, "You are now responsible for this answer.")
    return redirect("fittings:concern-detail", pk=pk)


@gate(WRITE)
@require_POST
@domain_errors_as_pages
def concern_signs(request: HttpRequest, pk: int) -> HttpResponse:
    """The stop signs, asked on the telephone."""
    actor = actor_of(request)
    concern = concern_get(actor, pk)
    form = SignsForm(request.POST, signs=signs_asked(concern))
    if not form.is_valid():
        return _page(request, concern, signs=form)
    services.concern_signs_answer(actor=actor, concern=concern, signs=form.cleaned_data["signs"])
    messages.success(request, "The stop signs are recorded.")
    return redirect("fittings:concern-detail", pk=pk)


@gate(WRITE)
@require_POST
@domain_errors_as_pages
def concern_close(request: HttpRequest, pk: int) -> HttpResponse:
    actor = actor_of(request)
    concern, form = concern_get(actor, pk), CloseForm(request.POST)
    if form.is_valid():
        try:
            services.concern_close(actor=actor, concern=concern, **form.cleaned_data)
            messages.success(request, "Closed.")
            return redirect("fittings:concern-list")
        except DomainError as problem:
            if problem.status != 400:
                raise
            add_problem(form, problem)
    return _page(request, concern, close=form)
