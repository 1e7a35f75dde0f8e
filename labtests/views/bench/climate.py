"""Pages of the chambers' climate: the logs of a chamber, a file previewed and imported, one log."""

from __future__ import annotations

import uuid
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.audit import entries_of
from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.gate.context import units_of
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.bench_tests import ReasonForm
from labtests.forms.climate import ClimateForm, ClimateOptionsForm
from labtests.models import Chamber, ClimateLog, StagedUpload
from labtests.presentation.bench import climate as presentation
from labtests.presentation.bench_tests import badge
from labtests.selectors.bench import climate as selectors
from labtests.selectors.bench.uploads import staged_climate
from labtests.selectors.bench_tests import bench_test_list, history
from labtests.services import ClimateGiven
from labtests.views.common import page_of


@gate("labtests.conditioning:view")
@require_safe
def climate_list(request: HttpRequest, code: str) -> HttpResponse:
    return _list(request, selectors.chamber_get(code))


def _list(request: HttpRequest, chamber: Chamber, form: ClimateForm | None = None) -> HttpResponse:
    page = page_of(selectors.climate_list(chamber), request)
    context = {
        "chamber": chamber,
        "page": page,
        "lines": [presentation.climate_line(log) for log in page.object_list],
        "form": (form or ClimateForm()) if allowed(request.user, "labtests.conditioning:write") else None,
    }
    return render(request, "labtests/climate_list.html", context, status=status_of(form))


@gate("labtests.conditioning:write")
@require_POST
def climate_stage(request: HttpRequest, code: str) -> HttpResponse:
    """Store a file for a day, and go on to its preview."""
    chamber = selectors.chamber_get(code)
    form = ClimateForm(request.POST, request.FILES)
    if not form.is_valid():
        return _list(request, chamber, form)
    file = form.cleaned_data["file"]
    try:
        batch = services.climate_stage(actor=actor_of(request), name=file.name, data=bytes(file.read()))
    except DomainError as problem:
        add_problem(form, problem)
        return _list(request, chamber, form)
    options = urlencode({name: form.cleaned_data[name] for name in ("time_zone", "unit")})
    return redirect(f"{reverse('labtests:climate-preview', args=[code, batch])}?{options}")


@gate("labtests.conditioning:write")
@require_http_methods(["GET", "HEAD", "POST"])
def climate_preview(request: HttpRequest, code: str, batch: uuid.UUID) -> HttpResponse:
    """Show what importing a staged file would do; a POST imports it."""
    chamber = selectors.chamber_get(code)
    staged = staged_climate(batch, actor_of(request))
    if staged is None:
        raise Http404
    form = ClimateOptionsForm(request.GET)
    problem: DomainError | None = None
    preview = None
    if form.is_valid():
        given = _given(chamber, staged, form)
        try:
            if request.method == "POST":
                return _imported(request, services.climate_confirm(actor=actor_of(request), staged=staged, given=given))
            preview = services.climate_preview(actor=actor_of(request), given=given)
        except DomainError as error:
            problem = error
            add_problem(form, error)
    context = {"chamber": chamber, "staged": staged, "form": form, "preview": preview, "problem": problem}
    is_bad = bool(form.errors) or preview is None or bool(preview.problems)
    return render(request, "labtests/climate_preview.html", context, status=400 if is_bad else 200)


def _given(chamber: Chamber, staged: StagedUpload, form: ClimateOptionsForm) -> ClimateGiven:
    return ClimateGiven(
        chamber, staged.name, bytes(staged.data), form.cleaned_data["time_zone"], form.cleaned_data["unit"]
    )


def _imported(request: HttpRequest, log: ClimateLog) -> HttpResponse:
    if log.is_repeat:
        messages.info(request, f"These readings are on record already, as {log.name}; nothing was stored twice.")
    else:
        messages.success(request, f"The climate of chamber {log.chamber.code} is on record.")
    return redirect("labtests:climate-detail", pk=log.pk)


@gate("labtests.conditioning:view")
@require_safe
def climate_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _detail(request, selectors.climate_get(pk))


def _detail(request: HttpRequest, log: ClimateLog, strike: ReasonForm | None = None) -> HttpResponse:
    may_strike = allowed(request.user, "labtests.conditioning:write") and log.struck_at is None
    numbers = [*log.touched.get("held", []), *log.touched.get("doubted", [])]
    context = {
        "log": log,
        "line": presentation.climate_line(log),
        "facts": presentation.climate_facts(log),
        "climate": presentation.log_drawings(log, units_of(request)),
        "tests": [(test, badge(test)) for test in bench_test_list().filter(pk__in=numbers)],
        "history": history(entries_of(log)),
        "strike": (strike or ReasonForm(auto_id="id_strike_%s")) if may_strike else None,
    }
    status = status_of(strike)
    return render(request, "labtests/climate_detail.html", context, status=status)


@gate("labtests.conditioning:write")
@require_POST
def climate_strike(request: HttpRequest, pk: int) -> HttpResponse:
    log = selectors.climate_get(pk)
    form = ReasonForm(request.POST, auto_id="id_strike_%s")
    if not form.is_valid():
        return _detail(request, log, form)
    try:
        services.climate_strike(actor=actor_of(request), log=log, reason=form.cleaned_data["reason"])
    except DomainError as problem:
        add_problem(form, problem)
        messages.warning(request, problem.message)
        return _detail(request, selectors.climate_get(pk), form)
    messages.success(request, "The log is struck. Tests that were held by it alone wait for review again.")
    return redirect("labtests:climate-detail", pk=pk)
