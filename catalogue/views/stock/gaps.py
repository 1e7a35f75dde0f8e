"""A store manager: what the wall lacks, of what is published and of what people needed."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from catalogue.presentation import gaps
from catalogue.selectors import band_list, shoes_by_band
from catalogue.selectors.stock import demand, walls
from catalogue.views.stock.own_store import choose_store, own_store
from core.gate.access import gate

READ = "catalogue.gap:read"
ABSENT_SHOWN = 20


@gate(READ)
@require_safe
def gap_home(request: HttpRequest) -> HttpResponse:
    return choose_store(request, READ, "catalogue:gap-detail", "Gaps")


@gate(READ)
@require_safe
def gap_detail(request: HttpRequest, slug: str) -> HttpResponse:
    store = own_store(request, slug, READ)
    bands, today = band_list(), timezone.localdate()
    wanted = demand.of_store(store, today)
    stock = walls.stock_by_band_and_size(store)
    context = {
        "store": store,
        "today": today,
        "map": gaps.gap_map(bands, stock, wanted),
        "bands": gaps.band_lines(bands, shoes_by_band(store.slug), wanted),
        "worst": gaps.worst_gaps(bands, stock, wanted),
        "demand": gaps.demand_note(wanted),
        "absent": gaps.absent_lines(walls.absent_shoes(store, limit=ABSENT_SHOWN), bands),
    }
    return render(request, "catalogue/gap_detail.html", context)
