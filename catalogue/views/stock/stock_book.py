"""Staff of a store: pairs that come and go, by barcode or by name, and the history of the stock."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_safe

from catalogue import services
from catalogue.forms.stock_work import BookForm, HistoryFilterForm
from catalogue.models import MovementKind
from catalogue.presentation import stock_work as presentation
from catalogue.selectors.stock import stock_work
from catalogue.selectors.stock.stock_work import full_title
from catalogue.services import Pairs
from catalogue.views.stock.own_store import choose_store, own_store
from core.gate.access import gate
from core.models import Store
from core.web.forms import problems_in, status_of
from core.web.requests import actor_of

BOOK = "catalogue.stock:book"
LAST_SHOWN = 10
ROWS = 50


@gate(BOOK)
@require_safe
def book_home(request: HttpRequest) -> HttpResponse:
    return choose_store(request, BOOK, "catalogue:stock-book", "Receive and sell")


def stock_context(request: HttpRequest, store: Store, **more: Any) -> dict[str, Any]:
    """Return what every page of a store's stock shows: the store, its other pages, how its sizes are written."""
    links = presentation.stock_links(request.user, store, request.path)
    return {"store": store, "places": links, "size_note": presentation.own_size_note(store), **more}


@gate(BOOK)
@require_http_methods(["GET", "HEAD", "POST"])
def stock_book(request: HttpRequest, slug: str) -> HttpResponse:
    """Book one size of a shoe; the page then waits for the next one, with the same kind of booking."""
    store = own_store(request, slug, BOOK)
    is_sent = request.method == "POST"
    kind = request.GET.get("kind", "")
    initial = {"kind": kind} if kind in MovementKind.values else {}
    form = BookForm(request.POST) if is_sent else BookForm(initial=initial)
    if is_sent and form.is_valid():
        with problems_in(form):
            return _book(request, store, form.cleaned_data["kind"], form.cleaned_data["pairs"])
    last = stock_work.movements_of(store)[:LAST_SHOWN]
    context = stock_context(
        request,
        store,
        form=form,
        names=stock_work.names_to_suggest(store),
        last=[presentation.movement_line(row, store) for row in last],
    )
    return render(request, "catalogue/stock_book.html", context, status=status_of(form))


def _book(request: HttpRequest, store: Store, kind: MovementKind, pairs: Pairs) -> HttpResponse:
    (item,) = services.stock_move(actor=actor_of(request), store=store, kind=kind, pairs=[pairs])
    size = presentation.size_and_width(pairs.size_eu, pairs.width, store)
    what = f"{full_title(pairs.shoe)}, {size}"
    messages.success(request, f"{what}: {pairs.quantity} {kind.label}, {item.quantity} here now.")
    return redirect(f"{reverse('catalogue:stock-book', args=[store.slug])}?{urlencode({'kind': kind.value})}")


@gate(BOOK)
@require_safe
def stock_history(request: HttpRequest, slug: str) -> HttpResponse:
    store = own_store(request, slug, BOOK)
    form = HistoryFilterForm(request.GET)
    form.is_valid()
    wanted = form.cleaned_data
    rows = stock_work.movements_of(store, words=wanted.get("q", ""), kind=wanted.get("kind", ""))
    page = Paginator(rows, ROWS).get_page(request.GET.get("page"))
    lines = [presentation.movement_line(row, store) for row in page.object_list]
    context = stock_context(request, store, filter=form, page=page, lines=lines)
    return render(request, "catalogue/stock_history.html", context, status=status_of(form))
