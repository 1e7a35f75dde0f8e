"""Asking for shoes that are not in the catalogue: a store's own wishes, and the queue of all of them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from catalogue import services
from catalogue.forms.wishes import WishDeclineForm, WishDoneForm, WishFilterForm, WishForm
from catalogue.models import ShoeWish
from catalogue.selectors.records.shoe_names import names_of_shoes
from catalogue.selectors.records.wishes import shoes_like, wish_get, wishes, wishes_of
from catalogue.views.stock.own_store import choose_store, own_store
from core.gate.access import gate
from core.models import Store
from core.web.forms import problems_in, status_of
from core.web.requests import actor_of

ASK, DECIDE = "catalogue.wish:ask", "catalogue.wish:decide"
ROWS = 50


@gate(ASK)
@require_safe
def wish_home(request: HttpRequest) -> HttpResponse:
    return choose_store(request, ASK, "catalogue:wish-store", "Ask for a shoe")


@gate(ASK)
@require_http_methods(["GET", "HEAD", "POST"])
def wish_store(request: HttpRequest, slug: str) -> HttpResponse:
    """Ask for a shoe, and see what became of the shoes that the store asked for."""
    store = own_store(request, slug, ASK)
    form = WishForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            services.wish_ask(actor=actor_of(request), store=store, **form.cleaned_data)
            messages.success(request, "Asked for. The answer appears here.")
            return redirect("catalogue:wish-store", store.slug)
    return _store_page(request, store, form)


def _store_page(request: HttpRequest, store: Store, form: WishForm) -> HttpResponse:
    page = Paginator(wishes_of(store), ROWS).get_page(request.GET.get("page"))
    context = {"store": store, "form": form, "page": page}
    return render(request, "catalogue/wish_store.html", context, status=status_of(form))


@gate(DECIDE)
@require_safe
def wish_list(request: HttpRequest) -> HttpResponse:
    form = WishFilterForm(request.GET)
    page = Paginator(wishes(form.wanted()), ROWS).get_page(request.GET.get("page"))
    return render(request, "catalogue/wish_list.html", {"form": form, "page": page}, status=status_of(form))


@gate(DECIDE)
@require_http_methods(["GET", "HEAD", "POST"])
def wish_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one wish with shoes that may be it, and answer it."""
    wish = wish_get(pk)
    if wish is None:
        raise Http404("This request for a shoe does not exist.")
    is_declined = request.POST.get("do") == "decline"
    sent = request.POST if request.method == "POST" else None
    done, declined = WishDoneForm(None if is_declined else sent), WishDeclineForm(sent if is_declined else None)
    form = declined if is_declined else done
    if sent is not None and form.is_valid():
        with problems_in(form):
            _answer(request, wish, form)
            messages.success(request, "Answered. The store sees it among the shoes it asked for.")
            return redirect("catalogue:wish-list")
    context: dict[str, Any] = {"wish": wish, "done": done, "declined": declined, "like": shoes_like(wish)}
    context["names"] = names_of_shoes() if wish.state == "open" else []
    return render(request, "catalogue/wish_detail.html", context, status=status_of(form))


def _answer(request: HttpRequest, wish: ShoeWish, form: forms.Form) -> None:
    actor = actor_of(request)
    if isinstance(form, WishDoneForm):
        services.wish_done(actor=actor, wish=wish, shoe=form.cleaned_data["shoe"])
    else:
        services.wish_decline(actor=actor, wish=wish, reason=form.cleaned_data["reason"])
