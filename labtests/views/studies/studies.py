"""Pages of gauge studies: plan, progress, result, and numbers from elsewhere."""

from __future__ import annotations

import re
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.gate.context import units_of
from core.web.csv_export import csv_response
from core.web.forms import add_problem, status_of
from core.web.people import names_of
from core.web.requests import actor_of
from labtests import services
from labtests.domain.files.problems import FileRejected, Problem
from labtests.domain.files.studyfile import read_study_table
from labtests.forms.bench_tests import ReasonForm
from labtests.forms.check_shoes import QuantityForm, StudyForm, WhatIfForm
from labtests.forms.quantities import PLAIN, STUDIED, Quantity, score_points
from labtests.models import GaugeStudy
from labtests.presentation.studies import studies as words
from labtests.selectors.scores import methods
from labtests.selectors.studies import studies
from labtests.views.common import page_of

WHAT_IF_COLUMNS = ("part", "operator", "trial")
NAME_BREAKS = re.compile(r"[\s,;]+")


@gate("labtests.study:view")
@require_safe
def study_list(request: HttpRequest) -> HttpResponse:
    page = page_of(studies.study_list(), request)
    may_plan = allowed(request.user, "labtests.study:write")
    return render(request, "labtests/study_list.html", {"page": page, "may_plan": may_plan})


@gate("labtests.study:write")
@require_http_methods(["GET", "HEAD", "POST"])
def study_create(request: HttpRequest) -> HttpResponse:
    is_sent = request.method == "POST"
    form = StudyForm(request.POST) if is_sent else StudyForm()
    if is_sent and form.is_valid():
        given = dict(form.cleaned_data)
        for name in ("specimens", "operators"):
            given[name] = NAME_BREAKS.split(given[name].strip())
        try:
            study = services.gauge_study_plan(actor=actor_of(request), **given)
        except DomainError as problem:
            add_problem(form, problem)
        else:
            messages.success(request, "The study is planned. Its tests are uploaded like any other.")
            return redirect("labtests:study-detail", pk=study.pk)
    return render(request, "labtests/study_form.html", {"form": form}, status=status_of(form))


@gate("labtests.study:view")
@require_safe
def study_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _detail(request, studies.study_get(pk))


def _detail(request: HttpRequest, study: GaugeStudy, close: ReasonForm | None = None) -> HttpResponse:
    progress = studies.study_progress(study)
    quantity = STUDIED[QuantityForm(request.GET).chosen()]
    points = score_points(methods.scoring_model_current().to_domain())[quantity.key]
    names = names_of(progress.operators)
    sheet, problem = None, ""
    if progress.is_complete:
        readings = words.readings_of(progress, quantity.key, names)
        sheet, problem = _sheet(readings, quantity, units_of(request), points)
    may_close = study.closed_at is None and allowed(request.user, "labtests.study:write")
    context = {
        "study": study,
        "progress": progress,
        "table": words.progress_table(progress, names),
        "step": 3 if progress.is_complete else 2,
        "quantities": list(STUDIED.values()),
        "quantity": quantity,
        "sheet": sheet,
        "problem": problem,
        "close": (close or ReasonForm()) if may_close else None,
    }
    return render(request, "labtests/study_detail.html", context, status=status_of(close))


def _sheet(
    readings: list[words.StudyReading], quantity: Quantity, system: str, points: float | None = None
) -> tuple[words.StudySheet | None, str]:
    """The result, or why there is none."""
    try:
        return words.study_sheet(readings, quantity, system, points=points), ""
    except ValueError as problem:
        return None, str(problem)


@gate("labtests.study:write")
@require_POST
def study_close(request: HttpRequest, pk: int) -> HttpResponse:
    study = studies.study_get(pk)
    form = ReasonForm(request.POST)
    if not form.is_valid():
        return _detail(request, study, form)
    try:
        services.gauge_study_close(actor=actor_of(request), study=study, reason=form.cleaned_data["reason"])
    except DomainError as problem:
        if problem.code == "closed":
            messages.warning(request, problem.message)
            return redirect("labtests:study-detail", pk=pk)
        add_problem(form, problem)
        return _detail(request, study, form)
    messages.success(request, "The study is closed: later tests no longer count for it.")
    return redirect("labtests:study-detail", pk=pk)


@gate("labtests.study:view")
@require_safe
def study_readings(request: HttpRequest, pk: int) -> HttpResponseBase:
    """The readings of a study as CSV, in the columns that the page for numbers from elsewhere takes."""
    progress = studies.study_progress(studies.study_get(pk))
    rows = [
        (cell.specimen, cell.operator, trial, test.test, test.performed_at.isoformat(), *test.values.values())
        for cell in progress.cells
        for trial, test in enumerate(cell.tests, start=1)
    ]
    header = (*WHAT_IF_COLUMNS, "test", "performed", *studies.COLUMNS.values())
    return csv_response(f"gauge-study-{pk}.csv", header, rows)


@gate("labtests.study:view")
@require_http_methods(["GET", "HEAD", "POST"])
def study_what_if(request: HttpRequest) -> HttpResponse:
    """Analyse a table of part, operator, trial and value; nothing of it is stored."""
    is_sent = request.method == "POST"
    form = WhatIfForm(request.POST, request.FILES) if is_sent else WhatIfForm()
    context: dict[str, Any] = {"form": form, "columns": (*WHAT_IF_COLUMNS, "value")}
    if is_sent and form.is_valid():
        context |= _what_if(form.table(), units_of(request))
    has_problem = bool(form.errors or context.get("problems") or context.get("problem"))
    return render(request, "labtests/study_what_if.html", context, status=400 if has_problem else 200)


def _what_if(table: bytes, system: str) -> dict[str, Any]:
    try:
        rows = read_study_table(table, WHAT_IF_COLUMNS)
    except FileRejected as refused:
        return {"problems": refused.problems}
    seen: dict[tuple[str, ...], int] = {}
    doubles = []
    for row in rows:
        if row.names in seen:
            problem = f"this part, operator and trial are already on line {seen[row.names]}"
            doubles.append(Problem("table", row.line, "trial", problem))
        seen.setdefault(row.names, row.line)
    if doubles:
        return {"problems": doubles[:50]}
    readings = [words.StudyReading(row.names[0], row.names[1], row.value) for row in rows]
    sheet, problem = _sheet(readings, PLAIN, system)
    return {"sheet": sheet, "problem": problem}
