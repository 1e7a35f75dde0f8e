"""A store manager: wall cards, printed from the published scores, and which of them no longer hold."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from catalogue import services
from catalogue.forms.wall_cards import CardFilterForm, PrintForm, chosen_shoes
from catalogue.models import CARDS_MOST, PrintRun
from catalogue.presentation import wall_cards
from catalogue.selectors import band_list
from catalogue.selectors.stock import walls
from catalogue.selectors.stock.walls import HERE, WallFilter
from catalogue.views.stock.own_store import choose_store, own_store
from core.domain.errors import DomainError
from core.gate.access import gate
from core.gate.context import units_of
from core.models import Store
from core.web.forms import status_of
from core.web.requests import actor_of

PRINT = "catalogue.wall_card:print"
ROWS = 50
RUNS_SHOWN = 10


@gate(PRINT)
@require_safe
def wall_card_home(request: HttpRequest) -> HttpResponse:
    return choose_store(request, PRINT, "catalogue:wall-card-list", "Wall cards")


@gate(PRINT)
@require_http_methods(["GET", "HEAD", "POST"])
def wall_card_list(request: HttpRequest, slug: str) -> HttpResponse:
    """Choose shoes, by hand or a whole band, and print their cards."""
    store = own_store(request, slug, PRINT)
    form = PrintForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            run = services.print_run_record(
                actor=actor_of(request), store=store, shoes=_wanted(request, store), **form.cleaned_data
            )
        except DomainError as problem:
            form.add_error(None, problem.message)
        else:
            return redirect("catalogue:wall-card-sheets", store.slug, run.pk)
    return _list_page(request, store, form)


def _wanted(request: HttpRequest, store: Store) -> list[int]:
    """Return the shoes asked for: those that are out of date, a whole band in stock, or the ticked ones."""
    which = request.POST.get("which", "")
    if which == "failing":
        return [shoe.id for shoe in walls.cards_that_fail(store) if shoe.is_published]
    bands = {f"band-{band.order}": band.order for band in band_list()}
    if which in bands:
        wanted = WallFilter(scope=HERE, band=bands[which], published_only=True)
        return walls.wall_shoe_ids(store, wanted, limit=CARDS_MOST + 1)
    return chosen_shoes(request.POST)


def _list_page(request: HttpRequest, store: Store, form: PrintForm) -> HttpResponse:
    chosen = CardFilterForm(request.GET, band_list())
    read = chosen.wanted()
    wanted = WallFilter(scope=read.scope, band=read.band, q=read.q, card=read.card, published_only=True)
    page = Paginator(range(walls.wall_count(store, wanted)), ROWS).get_page(request.GET.get("page"))
    shoes = walls.wall_shoes(store, wanted, limit=ROWS, offset=(page.number - 1) * ROWS)
    failing = walls.cards_that_fail(store)
    ticked = set(chosen_shoes(request.POST))
    context: dict[str, Any] = {
        "store": store,
        "filter": chosen,
        "form": form,
        "page": page,
        "lines": [(shoe, *wall_cards.card_note(shoe), shoe.id in ticked) for shoe in shoes],
        "failing": [(shoe, wall_cards.card_note(shoe)[0]) for shoe in failing],
        "reprintable": sum(shoe.is_published for shoe in failing),
        "bands": band_list(),
        "runs": walls.print_runs(store, limit=RUNS_SHOWN),
    }
    return render(request, "catalogue/wall_card_list.html", context, status=status_of(form, chosen))


def _run(request: HttpRequest, slug: str, pk: int) -> PrintRun:
    run = walls.print_run_get(own_store(request, slug, PRINT), pk)
    if run is None:
        raise Http404
    return run


@gate(PRINT)
@require_safe
def wall_card_sheets(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """Show the sheets of a run, to be printed by the browser: always what was recorded, marked where it is replaced."""
    run = _run(request, slug, pk)
    cards = walls.cards_of_run(run)
    old = sum(not card.is_current for card in cards)
    units = units_of(request)
    texts = [
        wall_cards.wall_card(card.shoe, run, units, replaced="" if card.is_current else "No longer the published score")
        for card in cards
    ]
    context = {
        "run": run,
        "sheets": wall_cards.sheets(texts, run.cards_per_sheet),
        "cards": len(cards),
        "old": old,
        "paper": run.get_paper_display(),
        "shoes": [card.shoe.id for card in cards],
    }
    return render(request, "catalogue/wall_card_sheets.html", context)


@gate(PRINT)
@require_POST
def wall_card_withdraw(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    run = services.print_run_withdraw(actor=actor_of(request), run=_run(request, slug, pk))
    messages.success(request, "These cards no longer count as being on the wall.")
    return redirect("catalogue:wall-card-list", run.store.slug)
