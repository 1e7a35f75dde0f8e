"""A store manager: what to order."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from catalogue.presentation import stock_work as presentation
from catalogue.selectors.stock import stock_work
from catalogue.views.stock.own_store import own_store
from catalogue.views.stock.stock_book import stock_context
from core.gate.access import gate
from core.web.csv_export import csv_response

READ = "catalogue.order:read"
LINES_SHOWN = 200


@gate(READ)
@require_safe
def order_list(request: HttpRequest, slug: str) -> HttpResponseBase:
    store, today = own_store(request, slug, READ), timezone.localdate()
    rows = presentation.order_rows(stock_work.order_lines(store, today), store)
    if request.GET.get("as") == "csv":
        name = f"order-list-{store.slug}-{today:%Y-%m-%d}.csv"
        return csv_response(name, presentation.ORDER_COLUMNS, presentation.order_csv(rows))
    context = stock_context(
        request, store, rows=rows[:LINES_SHOWN], more=max(0, len(rows) - LINES_SHOWN), days=stock_work.ORDER_DAYS
    )
    return render(request, "catalogue/order_list.html", context)
