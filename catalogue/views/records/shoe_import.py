"""Adding shoes from a file: the template, the upload, the preview, the confirmation."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from catalogue.forms.shoe_import import ShoeFileForm, read_staged, staged_text
from catalogue.services.csv_file import FileProblem, FileRejected
from catalogue.services.records.shoe_file import COLUMNS, REQUIRED, rows_of
from catalogue.services.records.shoe_import import Rows, import_plan, shoes_import
from core.domain.errors import DomainError
from core.gate.access import gate
from core.web import display
from core.web.csv_export import csv_response
from core.web.requests import actor_of

WRITE = "catalogue.shoe:write"
LINES_SHOWN = 200
COLLIDED = "Somebody added one of these shoes at the same moment. Nothing was added: send the file again."


@gate(WRITE)
@require_safe
def shoe_import_template(request: HttpRequest) -> HttpResponseBase:
    """Give an empty file with the columns."""
    return csv_response("shoes.csv", list(COLUMNS), [])


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def shoe_import(request: HttpRequest) -> HttpResponse:
    """Take a file of shoes, show what it would add, and add it once that is confirmed."""
    if request.method == "POST" and "staged" in request.POST:
        return _confirmed(request)
    form = ShoeFileForm(request.POST, request.FILES) if request.method == "POST" else ShoeFileForm()
    if not form.is_bound or not form.is_valid():
        return _page(request, form)
    try:
        rows = rows_of(bytes(form.cleaned_data["file"].read()))
        return _preview(request, rows)
    except FileRejected as refused:
        return _page(request, form, refused.problems)


def _page(request: HttpRequest, form: ShoeFileForm, problems: tuple[FileProblem, ...] = ()) -> HttpResponse:
    columns = [(name, column.hint, name in REQUIRED) for name, column in COLUMNS.items()]
    context = {"form": form, "columns": columns, "problems": problems}
    return render(request, "catalogue/shoe_import.html", context, status=400 if problems or form.errors else 200)


def _preview(request: HttpRequest, rows: Rows) -> HttpResponse:
    plan = import_plan(rows)
    used = [name for name in COLUMNS if any(name in cells for _, cells in rows)]
    context: dict[str, Any] = {
        "plan": plan,
        "used": used,
        "rows": [(row, [cells.get(name, "") for name in used]) for row, cells in rows[:LINES_SHOWN]],
        "staged": staged_text(rows),
    }
    return render(request, "catalogue/shoe_import_preview.html", context)


def _confirmed(request: HttpRequest) -> HttpResponse:
    try:
        shoes = shoes_import(actor=actor_of(request), rows=read_staged(request.POST["staged"]))
    except FileRejected as refused:
        return _page(request, ShoeFileForm(), refused.problems)
    except (DomainError, IntegrityError) as problem:
        messages.error(request, problem.message if isinstance(problem, DomainError) else COLLIDED)
        return redirect("catalogue:shoe-import")
    messages.success(request, f"{display.count(len(shoes), 'shoe')} added as drafts.")
    return redirect("catalogue:record-list")
