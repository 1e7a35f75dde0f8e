"""What a customer sees through the signed link: the card of the own fitting, and the follow-up that is due."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from catalogue.selectors import band_list
from core import row_scope
from core.context import units_of
from core.errors import DomainError
from core.permissions import PUBLIC, gate
from fittings import forms, presentation, services
from fittings.cautions import left_out_words
from fittings.domain.stop_signs import refer_words
from fittings.drawings import target_drawing
from fittings.links import fitting_of
from fittings.models import Fitting, FollowUp
from fittings.pages import add_problems
from fittings.selectors.follow_ups import history_of
from fittings.selectors.lists import follow_up_due
from fittings.selectors.needs import need_of


def _private(response: HttpResponse) -> HttpResponse:
    response.headers["X-Robots-Tag"] = "noindex, nofollow"
    # "no-referrer" would make browsers send "Origin: null" with the form, which the CSRF check refuses.
    response.headers["Referrer-Policy"] = "same-origin"
    return response


def _refused(request: HttpRequest, problem: DomainError) -> HttpResponse:
    context = {"message": problem.message}
    return _private(render(request, "fittings/link_refused.html", context, status=problem.status))


def _opened(token: str) -> Fitting:
    """The fitting of a link, with the rows of its store in scope for the rest of the request."""
    fitting = fitting_of(token)
    row_scope.enter([fitting.store_id])
    return fitting


@gate(PUBLIC)
@never_cache
@require_safe
def card(request: HttpRequest, token: str) -> HttpResponse:
    """The card; above it the questions, where some are due."""
    try:
        fitting = _opened(token)
    except DomainError as problem:
        return _refused(request, problem)
    due = follow_up_due(fitting, timezone.localdate())
    page = forms.AnswerForms(history=history_of(fitting)) if due else None
    return _card_page(request, fitting, {"token": token, "due": due, "page": page})


@gate(PUBLIC)
@never_cache
@require_POST
def answer(request: HttpRequest, token: str) -> HttpResponse:
    """The answers of the follow-up that is due; once, however often they are sent."""
    try:
        fitting = _opened(token)
    except DomainError as problem:
        return _refused(request, problem)
    due = follow_up_due(fitting, timezone.localdate())
    if due is None or request.POST.get("follow_up") != str(due.pk):
        return _card_page(request, fitting, {"token": token, "due": None, "thanks": "Your answers are with us."})
    page = forms.AnswerForms(request.POST, history=history_of(fitting))
    if page.is_valid() and _answered(due, page):
        return _card_page(request, fitting, {"token": token, "due": None, "thanks": "Thank you for your answers."})
    return _card_page(request, fitting, {"token": token, "due": due, "page": page}, status=400)


def _answered(due: FollowUp, page: forms.AnswerForms) -> bool:
    try:
        services.follow_up_answer(actor=None, follow_up=due, answer=page.answer())
    except DomainError as problem:
        if problem.code == "already_answered":
            return True
        add_problems(page.questions, problem)
        return False
    return True


def _card_page(request: HttpRequest, fitting: Fitting, context: dict[str, Any], *, status: int = 200) -> HttpResponse:
    need = need_of(fitting)
    choice = getattr(fitting, "choice", None)
    context |= {
        "fitting": fitting,
        "facts": presentation.intake_facts(fitting, units_of(request)),
        "need": presentation.need_lines(need),
        "drawing": target_drawing(need, band_list()),
        "choice": choice,
        "refer": refer_words(fitting.stop_signs),
        "left_out_words": left_out_words(need),
        "next_due": fitting.follow_ups.filter(due_on__gt=timezone.localdate()).order_by("due_on").first(),
    }
    return _private(render(request, "fittings/card.html", context, status=status))
