"""Page of the comparison of rigs after ISO 5725-2, from records or from numbers elsewhere."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_safe

from core.gate.access import gate
from core.gate.context import units_of
from core.web.forms import status_of
from labtests.domain.files.problems import FileRejected
from labtests.domain.files.studyfile import read_study_table
from labtests.forms.check_shoes import PrecisionForm, WhatIfForm
from labtests.forms.quantities import PLAIN, STUDIED
from labtests.presentation.studies import precision as words
from labtests.selectors.studies import precision
from labtests.selectors.studies.agreement import agreements_of

WHAT_IF_COLUMNS = ("lab", "specimen")


@gate("labtests.study:view")
@require_safe
def precision_detail(request: HttpRequest) -> HttpResponse:
    """The specimens picked, or those that most rigs tested."""
    shared = list(precision.shared_specimens())
    codes = [specimen.code for specimen in shared]
    form = PrecisionForm(request.GET, specimens=codes, unpicked=precision.widest(shared))
    context: dict[str, Any] = {"form": form, "shared": shared, "quantity": STUDIED[form.chosen()]}
    if form.is_valid():
        levels = precision.levels_of(form.levels(), form.chosen(), since=form.since(), until=form.until())
        judged = agreements_of(form.levels(), form.chosen(), since=form.since(), until=form.until())
        context["sheet"] = words.precision_sheet(levels, context["quantity"], units_of(request), judged=judged)
    return render(request, "labtests/precision_detail.html", context, status=status_of(form))


@gate("labtests.study:view")
@require_http_methods(["GET", "HEAD", "POST"])
def precision_what_if(request: HttpRequest) -> HttpResponse:
    """Compare laboratories by a table of lab, specimen and value; nothing of it is stored."""
    is_sent = request.method == "POST"
    form = WhatIfForm(request.POST, request.FILES) if is_sent else WhatIfForm()
    context: dict[str, Any] = {"form": form, "columns": (*WHAT_IF_COLUMNS, "value")}
    if is_sent and form.is_valid():
        context |= _what_if(form.table(), units_of(request))
    has_problem = bool(form.errors or context.get("problems") or context.get("problem"))
    return render(request, "labtests/precision_what_if.html", context, status=400 if has_problem else 200)


def _what_if(table: bytes, system: str) -> dict[str, Any]:
    try:
        rows = read_study_table(table, WHAT_IF_COLUMNS)
    except FileRejected as refused:
        return {"problems": refused.problems}
    found: dict[str, dict[str, list[float]]] = {}
    for row in rows:
        found.setdefault(row.names[1], {}).setdefault(row.names[0], []).append(row.value)
    if len(found) > precision.MAX_LEVELS:
        return {"problem": f"the table has {len(found)} specimens; up to {precision.MAX_LEVELS} are compared at once"}
    levels = [precision.Level(name, results) for name, results in found.items()]
    return {"sheet": words.precision_sheet(levels, PLAIN, system)}
