"""Pages of publication: which shoes have new results, and one shoe's proposal."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.bench_tests import ReasonForm, ShoeFilterForm
from labtests.presentation import bench_tests as presentation
from labtests.selectors.shoes import card_current, shoe_get, shoes_tested
from labtests.views.common import page_of


@gate("labtests.shoe:view")
@require_safe
def shoe_list(request: HttpRequest) -> HttpResponse:
    form = ShoeFilterForm(request.GET)
    words = form.cleaned_data["q"] if form.is_valid() else ""
    page = page_of(shoes_tested(words), request)
    context = {"form": form, "page": page}
    return render(request, "labtests/shoe_list.html", context, status=status_of(form))


@gate("labtests.shoe:view")
@require_safe
def shoe_detail(request: HttpRequest, slug: str) -> HttpResponse:
    return _detail(request, slug, ReasonForm())


def _detail(request: HttpRequest, slug: str, form: ReasonForm) -> HttpResponse:
    shoe = shoe_get(slug)
    proposal = services.shoe_proposal(shoe=shoe)
    context = {
        "shoe": shoe,
        "card": card_current(shoe),
        "proposal": proposal,
        "scores": presentation.proposal_lines(proposal),
        "probabilities": presentation.probabilities(proposal.placement),
        "left_out": [(test, why, presentation.badge(test)) for test, why in proposal.left_out],
        "form": form if allowed(request.user, "labtests.shoe:publish") else None,
    }
    return render(request, "labtests/shoe_detail.html", context, status=status_of(form))


@gate("labtests.shoe:publish")
@require_http_methods(["POST"])
def shoe_publish(request: HttpRequest, slug: str) -> HttpResponse:
    shoe = shoe_get(slug)
    form = ReasonForm(request.POST)
    if not form.is_valid():
        return _detail(request, slug, form)
    try:
        card = services.shoe_publish(actor=actor_of(request), shoe=shoe, reason=form.cleaned_data["reason"])
    except DomainError as problem:
        add_problem(form, problem)
        return _detail(request, slug, form)
    messages.success(request, f"{shoe.title} is published: stability {card.stability:.1f}, {card.band.name}.")
    return redirect("labtests:shoe-detail", slug=slug)
