"""Staff of a store: pairs that are set aside for a customer."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from catalogue import services
from catalogue.forms.stock_work import ReservationEndForm, ReservationForm
from catalogue.presentation import stock_work as presentation
from catalogue.selectors.stock import stock_work
from catalogue.views.stock.own_store import choose_store, own_store
from catalogue.views.stock.stock_book import stock_context
from core.domain.errors import DomainError
from core.gate.access import gate
from core.models import Store
from core.web.forms import problems_in, status_of
from core.web.requests import actor_of

WRITE = "catalogue.reservation:write"
USUAL_DAYS = 3
SHOWN_MOST = 200


@gate(WRITE)
@require_safe
def reservation_home(request: HttpRequest) -> HttpResponse:
    return choose_store(request, WRITE, "catalogue:reservation-list", "Reservations")


@gate(WRITE)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def reservation_list(request: HttpRequest, slug: str) -> HttpResponse:
    store = own_store(request, slug, WRITE)
    today = timezone.localdate()
    is_sent = request.method == "POST"
    usual = {"until": today + dt.timedelta(days=USUAL_DAYS)}
    form = ReservationForm(request.POST) if is_sent else ReservationForm(initial=usual)
    if is_sent and form.is_valid():
        with problems_in(form):
            _reserve(request, store, form)
            return redirect("catalogue:reservation-list", store.slug)
    rows = stock_work.reservations_of(store)[:SHOWN_MOST]
    context = stock_context(
        request,
        store,
        form=form,
        names=stock_work.names_to_suggest(store),
        lines=[presentation.reservation_line(row, store, today) for row in rows],
    )
    return render(request, "catalogue/reservation_list.html", context, status=status_of(form))


def _reserve(request: HttpRequest, store: Store, form: ReservationForm) -> None:
    read = form.cleaned_data
    pairs = read["pairs"]
    services.reservation_make(
        actor=actor_of(request),
        store=store,
        shoe=pairs.shoe,
        size_eu=pairs.size_eu,
        quantity=pairs.quantity,
        note=read["note"],
        until=read["until"],
        width=pairs.width,
    )
    messages.success(request, f"{stock_work.full_title(pairs.shoe)} is reserved.")


@gate(WRITE)
@require_POST
def reservation_end(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """End a reservation: collected, which sells the pairs, or released."""
    store = own_store(request, slug, WRITE)
    reservation = stock_work.reservation_of(store, pk)
    form = ReservationEndForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose “collected” or “released”.")
        return redirect("catalogue:reservation-list", store.slug)
    try:
        outcome = form.cleaned_data["outcome"]
        services.reservation_close(actor=actor_of(request), reservation=reservation, outcome=outcome)
        messages.success(request, f"{stock_work.full_title(reservation.shoe)}: {outcome.label}.")
    except DomainError as problem:
        messages.error(request, problem.message)
    return redirect("catalogue:reservation-list", store.slug)
