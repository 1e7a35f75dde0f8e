"""Taking back: a choice, answers, a customer's details, a person who was recorded twice."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from core.domain.errors import DomainError
from core.gate.access import gate
from core.web.forms import add_problem, problems_in, status_of
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings import services
from fittings.forms.fitting.choice import CorrectionForm
from fittings.forms.people.follow_up import AmendForm, AnswerForms
from fittings.selectors.people.follow_ups import history_of
from fittings.selectors.people.lists import choice_get, follow_up_get, names_to_pick
from fittings.views.common import domain_errors_as_pages


@gate("fittings.fitting:write")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def choice_correct(request: HttpRequest, pk: int, choice: int) -> HttpResponse:
    """Correct a choice, exchange it or take it back."""
    chosen = choice_get(request.user, pk, choice)
    form = CorrectionForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            done = services.choice_correct(actor=actor_of(request), choice=chosen, **form.cleaned_data)
            messages.success(request, f"Recorded: {done.correction.get_kind_display()}.")
            for note in done.stock_notes:
                messages.warning(request, note)
            return redirect("fittings:fitting-detail", pk=pk)
    context = {"choice": chosen, "form": form, "shoes": names_to_pick()}
    return render(request, "fittings/choice_correct.html", context, status=status_of(form))


@gate("fittings.follow_up:answer")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def answers_amend(request: HttpRequest, pk: int) -> HttpResponse:
    """Replace the answers of a follow-up or a contact that were wrong."""
    follow_up = follow_up_get(request.user, pk)
    sent = request.POST if request.method == "POST" else None
    reason, page = AmendForm(sent), AnswerForms(sent, history=history_of(follow_up.fitting))
    if sent is not None and reason.is_valid() and page.is_valid():
        try:
            services.follow_up_amend(
                actor=actor_of(request), follow_up=follow_up, answer=page.answer(), **reason.cleaned_data
            )
            messages.success(request, "Amended. The earlier answers stay on record but no longer count.")
            return redirect("fittings:customer-detail", pk=follow_up.fitting.customer_id)
        except DomainError as problem:
            add_problem(page.questions, problem)
    context = {"follow_up": follow_up, "reason": reason, "page": page}
    return render(request, "fittings/answers_amend.html", context, status=200 if sent is None else 400)
