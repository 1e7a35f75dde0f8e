"""A store manager: the stock as a grid, and as a file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from catalogue import services
from catalogue.forms.stock import (
    SentGrid,
    StockFileForm,
    StockFilterForm,
    read_grid,
    read_staged,
    run_sizes,
    staged_text,
)
from catalogue.presentation import stock_grid, stock_work
from catalogue.selectors import band_list
from catalogue.selectors.stock import walls
from catalogue.selectors.stock.stock_work import count_lines, widths_of_shoes
from catalogue.services import StockOvertaken
from catalogue.services.stock import count_file, stock_plan
from catalogue.views.stock.own_store import choose_store, own_store
from core.domain.errors import DomainError
from core.gate.access import gate
from core.models import Store
from core.web import display
from core.web.forms import status_of
from core.web.requests import actor_of

WRITE = "catalogue.stock:write"
ROWS = 25
NOTHING: Mapping[Any, Any] = {}


@gate(WRITE)
@require_safe
def stock_home(request: HttpRequest) -> HttpResponse:
    return choose_store(request, WRITE, "catalogue:stock-edit", "Stock")


def _grid_page(
    request: HttpRequest, store: Store, sent: SentGrid | None = None, notes: stock_grid.Notes = NOTHING
) -> HttpResponse:
    """Show the grid as it is; after a refusal with what was sent, so that nothing has to be typed again."""
    form = StockFilterForm(request.GET, band_list())
    wanted, sizes = form.wanted(), run_sizes(form.run())
    page = Paginator(range(walls.wall_count(store, wanted)), ROWS).get_page(request.GET.get("page"))
    shoes = (
        walls.wall_shoes_by_id(store, sent.shoes)
        if sent
        else walls.wall_shoes(store, wanted, limit=ROWS, offset=(page.number - 1) * ROWS)
    )
    ids = [shoe.id for shoe in shoes]
    stock = stock_grid.stock_rows(shoes, count_lines(store, ids), widths_of_shoes(ids))
    sizes = sorted({*sizes, *(size for row in stock for size in row.held if sizes[0] <= size <= sizes[-1])})
    context = {
        "store": store,
        "filter": form,
        "page": page,
        "grid": stock_grid.grid(stock, sizes, texts=sent.texts if sent else NOTHING, notes=notes),
        "notes": stock_grid.note_lines(stock, notes),
        "pairs": display.count(walls.pairs_at(store), "pair"),
        "failing": len(walls.cards_that_fail(store)),
        "places": stock_work.stock_links(request.user, store, request.path),
        "sizes": stock_work.size_headings(sizes, store),
        "size_note": stock_work.own_size_note(store),
    }
    status = status_of(form) if not notes else 409 if stock_grid.is_overtaken(notes) else 400
    return render(request, "catalogue/stock_edit.html", context, status=status)


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def stock_edit(request: HttpRequest, slug: str) -> HttpResponse:
    store = own_store(request, slug, WRITE)
    if request.method != "POST":
        return _grid_page(request, store)
    try:
        sent = read_grid(request.POST)
    except DomainError as problem:
        messages.error(request, problem.message)
        return redirect("catalogue:stock-edit", store.slug)
    if sent.problems:
        return _grid_page(request, store, sent, stock_grid.notes_of_problems(sent.problems))
    try:
        saved = services.stock_cells_save(actor=actor_of(request), store=store, cells=sent.cells)
    except StockOvertaken as problem:
        return _grid_page(request, store, sent, stock_grid.notes_of_overtaken(problem.cells))
    except (DomainError, IntegrityError) as problem:
        messages.error(request, problem.message if isinstance(problem, DomainError) else stock_plan.COLLIDED)
        return redirect("catalogue:stock-edit", store.slug)
    words = f"{display.count(len(saved), 'size')} saved." if saved else "Nothing was changed."
    messages.success(request, words)
    return HttpResponseRedirect(request.get_full_path())


@gate(WRITE)
@require_safe
def stock_file(request: HttpRequest, slug: str) -> HttpResponse:
    """Give the whole stock of a store as CSV."""
    store = own_store(request, slug, WRITE)
    rows = [
        count_file.StockRow(line.slug, line.title, line.band, line.size_eu, line.quantity, line.width)
        for line in walls.stock_lines_of(store)
    ]
    response = HttpResponse(count_file.write(rows), content_type="text/csv; charset=utf-8")
    name = f"stock-{store.slug}-{timezone.localdate():%Y-%m-%d}.csv"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def stock_count(request: HttpRequest, slug: str) -> HttpResponse:
    """Take a stock file, show what it would change, and change it once that is confirmed."""
    store = own_store(request, slug, WRITE)
    if request.method == "POST" and "staged" in request.POST:
        return _confirm(request, store)
    is_sent = request.method == "POST"
    form = StockFileForm(request.POST, request.FILES) if is_sent else StockFileForm()
    context: dict[str, Any] = {"store": store, "form": form, "columns": ("shoe", "size", count_file.WIDTH, "quantity")}
    if not is_sent or not form.is_valid():
        return render(request, "catalogue/stock_count.html", context, status=status_of(form))
    try:
        plan = _plan(store, form)
    except count_file.CountRejected as refused:
        context["problems"] = refused.problems
        return render(request, "catalogue/stock_count.html", context, status=400)
    return _preview(request, store, plan)


def _plan(store: Store, form: StockFileForm) -> stock_plan.Plan:
    data = bytes(form.cleaned_data["file"].read())
    return stock_plan.plan_of(store, data, is_whole=form.cleaned_data["is_whole"])


def _preview(
    request: HttpRequest, store: Store, plan: stock_plan.Plan, overtaken: list[str] | None = None
) -> HttpResponse:
    context = {
        "store": store,
        "plan": plan,
        "lines": stock_plan.lines_shown(plan),
        "staged": staged_text(store.slug, plan.cells),
        "overtaken": overtaken,
    }
    return render(request, "catalogue/stock_preview.html", context, status=409 if overtaken else 200)


def _confirm(request: HttpRequest, store: Store) -> HttpResponse:
    try:
        cells = read_staged(request.POST["staged"], store.slug)
        saved = services.stock_cells_save(actor=actor_of(request), store=store, cells=cells)
    except StockOvertaken as problem:
        plan = stock_plan.plan_again(store, cells)
        return _preview(request, store, plan, stock_plan.overtaken_lines(problem.cells))
    except (DomainError, IntegrityError) as problem:
        messages.error(request, problem.message if isinstance(problem, DomainError) else stock_plan.COLLIDED)
        return redirect("catalogue:stock-count", store.slug)
    messages.success(request, f"{display.count(len(saved), 'size')} saved from the file.")
    return redirect("catalogue:stock-edit", store.slug)
