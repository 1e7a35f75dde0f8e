"""A store manager: transfers to and from the practice's other stores."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from catalogue import services
from catalogue.forms.stock_work import ArrivalForm, TransferForm, transfer_lines
from catalogue.models import StockTransfer
from catalogue.presentation import stock_work as presentation
from catalogue.selectors.stock import stock_work
from catalogue.views.stock.own_store import own_store
from catalogue.views.stock.stock_book import stock_context
from core.gate.access import gate
from core.models import Store
from core.web.forms import ReasonForm, problems_in
from core.web.requests import actor_of

WRITE = "catalogue.transfer:write"
ROWS = 50


@gate(WRITE)
@require_safe
def transfer_list(request: HttpRequest, slug: str) -> HttpResponse:
    store = own_store(request, slug, WRITE)
    page = Paginator(stock_work.transfers_of(store), ROWS).get_page(request.GET.get("page"))
    rows = [presentation.transfer_row(transfer, store) for transfer in page.object_list]
    return render(request, "catalogue/transfer_list.html", stock_context(request, store, page=page, rows=rows))


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def transfer_new(request: HttpRequest, slug: str) -> HttpResponse:
    store = own_store(request, slug, WRITE)
    data = request.POST if request.method == "POST" else None
    form, lines = TransferForm(data, from_store=store), transfer_lines(data)
    if data is not None and form.is_valid() and lines.is_valid():
        with problems_in(form):
            sent = services.transfer_send(
                actor=actor_of(request), from_store=store, to_store=form.cleaned_data["to_store"], pairs=lines.pairs()
            )
            messages.success(request, f"Sent to {sent.to_store.name}. They confirm what arrives.")
            return redirect("catalogue:transfer-detail", store.slug, sent.pk)
    has_problem = bool(form.errors or (data is not None and not lines.is_valid()))
    context = stock_context(request, store, form=form, lines=lines, names=stock_work.names_to_suggest(store))
    return render(request, "catalogue/transfer_new.html", context, status=400 if has_problem else 200)


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def transfer_detail(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """Show a transfer; the receiving store says here how many pairs arrived."""
    store = own_store(request, slug, WRITE)
    transfer = stock_work.transfer_of(store, pk)
    lines = presentation.transfer_lines(transfer, store)
    if request.method != "POST":
        return _detail(request, store, transfer)
    if transfer.to_store_id != store.pk:
        raise PermissionDenied("Only the store that receives the pairs can record what arrived.")
    form = ArrivalForm(request.POST, lines=[(key, label, sent) for key, label, sent, _ in lines])
    if form.is_valid():
        with problems_in(form):
            services.transfer_receive(actor=actor_of(request), transfer=transfer, received=form.received())
            messages.success(request, "The pairs are in your stock now.")
            return redirect("catalogue:transfer-detail", store.slug, pk)
    return _detail(request, store, transfer, arrival=form)


def _detail(
    request: HttpRequest,
    store: Store,
    transfer: StockTransfer,
    *,
    arrival: ArrivalForm | None = None,
    reason: ReasonForm | None = None,
) -> HttpResponse:
    lines = presentation.transfer_lines(transfer, store)
    is_open, is_ours = transfer.state == StockTransfer.State.SENT, transfer.from_store_id == store.pk
    if is_open and not is_ours:
        arrival = arrival or ArrivalForm(lines=[(key, label, sent) for key, label, sent, _ in lines])
    context = stock_context(
        request,
        store,
        transfer=transfer,
        row=presentation.transfer_row(transfer, store),
        lines=lines,
        arrival=arrival,
        reason=(reason or ReasonForm()) if is_open and is_ours else None,
    )
    has_problem = bool((arrival and arrival.errors) or (reason and reason.errors))
    return render(request, "catalogue/transfer_detail.html", context, status=400 if has_problem else 200)


@gate(WRITE)
@require_http_methods(["POST"])
def transfer_back(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """Call back a transfer that this store sent."""
    store = own_store(request, slug, WRITE)
    transfer = stock_work.transfer_of(store, pk)
    if transfer.from_store_id != store.pk:
        raise PermissionDenied("Only the store that sent the pairs can call them back.")
    form = ReasonForm(request.POST)
    if form.is_valid():
        with problems_in(form):
            reason = form.cleaned_data["reason"]
            services.transfer_call_back(actor=actor_of(request), transfer=transfer, reason=reason)
            messages.success(request, "The pairs are back in your stock.")
            return redirect("catalogue:transfer-detail", store.slug, pk)
    return _detail(request, store, transfer, reason=form)
