"""Asking for a fitting from the public pages, and the store's answer to it."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.accounts.lockout import lockout_address
from core.domain.errors import DomainError
from core.gate.access import PUBLIC, gate
from core.models import Store
from core.web.forms import add_problem
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.forms.people.requests import AskForm, CloseRequestForm
from fittings.models import FittingRequest, RequestState
from fittings.services.people.requests import RequestedFitting, fitting_request_close, fitting_request_make
from fittings.views.common import domain_errors_as_pages


@gate(PUBLIC)
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def ask(request: HttpRequest) -> HttpResponse:
    """Ask a store for a fitting: a name, a way to reach, a day."""
    if request.method != "POST":
        form = AskForm(initial={"store": request.GET.get("store", "")})
        return _page(request, form)
    form = AskForm(request.POST)
    if form.is_from_a_robot:
        # Answered as if it were taken, so that nobody learns what gave it away.
        return redirect("start:asked")
    if not form.is_valid():
        return _page(request, form, status=400)
    try:
        _make(request, form)
    except DomainError as problem:
        add_problem(form, problem)
        return _page(request, form, status=problem.status)
    return redirect("start:asked")


def _make(request: HttpRequest, form: AskForm) -> None:
    said = form.cleaned_data
    asked = RequestedFitting(said["name"], said["reach"], said["wish_day"], said["consent"])
    store = get_object_or_404(Store, slug=said["store"])
    fitting_request_make(store=store, asked=asked, address=lockout_address(request) or "")


def _page(request: HttpRequest, form: AskForm, *, status: int = 200) -> HttpResponse:
    return render(request, "fittings/ask.html", {"form": form, "canonical": request.path}, status=status)


@gate(PUBLIC)
@require_safe
def asked(request: HttpRequest) -> HttpResponse:
    return render(request, "fittings/asked.html", {"canonical": request.path})


@gate("fittings.request:close")
@require_POST
@domain_errors_as_pages
def request_close(request: HttpRequest, pk: int) -> HttpResponse:
    """The store has answered a request, or closes it."""
    form = CloseRequestForm(request.POST)
    if not form.is_valid():
        raise DomainError("Choose whether the fitting was arranged or the request is closed.", code="invalid")
    held = FittingRequest.objects.visible_to(request.user).filter(pk=pk).first()
    if held is None:
        raise Http404("This request does not exist.")
    outcome = RequestState(form.cleaned_data["outcome"])
    fitting_request_close(actor=actor_of(request), request=held, outcome=outcome)
    messages.success(request, "The request is closed, and the person’s details are deleted.")
    return redirect("fittings:home")
