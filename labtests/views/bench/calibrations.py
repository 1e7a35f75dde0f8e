"""Pages of one calibration: what its certificate says, its file, its signature, taking it out of use."""

from __future__ import annotations

from django.contrib import messages
from django.core.files.storage import default_storage
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_POST, require_safe

from core.audit import entries_of
from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.web.forms import add_problem
from core.web.requests import actor_of
from labtests import services
from labtests.forms.bench_tests import CertificateForm, ReasonForm, given_file
from labtests.models import BenchTest, Calibration, State
from labtests.presentation.bench import calibrations as presentation
from labtests.presentation.bench.calibration_lines import calibration_line, calibration_state
from labtests.presentation.bench_tests import badge
from labtests.selectors.bench import calibrations as selectors
from labtests.selectors.bench_tests import history
from labtests.views import common as common

TESTS_SHOWN = 50


@gate("labtests.rig:view")
@require_safe
def calibration_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _detail(request, selectors.calibration_get(pk))


def _detail(
    request: HttpRequest,
    calibration: Calibration,
    *,
    attach: CertificateForm | None = None,
    strike: ReasonForm | None = None,
) -> HttpResponse:
    drift = selectors.drift_of(calibration)
    tests = selectors.tests_depending_on(calibration).exclude(state=State.VOID)
    state = calibration_state(calibration, None, timezone.localdate())
    may_attach = allowed(request.user, "labtests.rig:write") and not calibration.file_key
    may_strike = allowed(request.user, "labtests.calibration:strike")
    context = {
        "calibration": calibration,
        "line": calibration_line(calibration.quantity, calibration, state),
        "facts": presentation.calibration_facts(calibration),
        "points": presentation.point_lines(calibration),
        "previous": drift.previous if drift else None,
        "drifts": presentation.drift_lines(drift, calibration.unit) if drift else [],
        "n_tests": tests.count(),
        "tests": [(test, badge(test)) for test in _shown(tests)],
        "history": history(entries_of(calibration)),
        "may_sign": _may_sign(request, calibration),
        "is_own": calibration.recorded_by_id == actor_of(request).pk,
        "attach": (attach or CertificateForm()) if may_attach and not calibration.is_struck else None,
        "strike": (strike or ReasonForm(auto_id="id_strike_%s")) if may_strike and not calibration.is_struck else None,
    }
    has_problem = bool((attach and attach.errors) or (strike and strike.errors))
    return render(request, "labtests/calibration_detail.html", context, status=400 if has_problem else 200)


def _shown(tests: QuerySet[BenchTest]) -> list[BenchTest]:
    return list(tests.select_related("specimen").order_by("-performed_at", "-pk")[:TESTS_SHOWN])


def _may_sign(request: HttpRequest, calibration: Calibration) -> bool:
    waits = not calibration.is_signed and not calibration.is_struck
    return waits and allowed(request.user, "labtests.calibration:sign")


@gate("labtests.rig:view")
@require_safe
def calibration_file(request: HttpRequest, pk: int) -> HttpResponse:
    """Send the certificate's file, as a download and never as a page."""
    calibration = selectors.calibration_get(pk)
    if not calibration.file_key:
        raise Http404
    try:
        with default_storage.open(calibration.file_key) as file:
            data = file.read()
    except FileNotFoundError as problem:
        raise Http404 from problem
    response = HttpResponse(data, content_type=calibration.file_type)
    disposition = content_disposition_header(as_attachment=True, filename=calibration.file_name)
    response.headers["Content-Disposition"] = disposition or "attachment"
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Cache-Control"] = "private, no-store"
    return response


@gate("labtests.calibration:sign")
@require_POST
def calibration_sign(request: HttpRequest, pk: int) -> HttpResponse:
    calibration = selectors.calibration_get(pk)
    try:
        services.calibration_sign(actor=actor_of(request), calibration=calibration)
    except DomainError as problem:
        messages.warning(request, problem.message)
        return redirect("labtests:calibration-detail", pk=pk)
    messages.success(request, "The calibration is signed and counts from now on.")
    return redirect("labtests:calibration-detail", pk=pk)


@gate("labtests.rig:write")
@require_POST
def calibration_attach(request: HttpRequest, pk: int) -> HttpResponse:
    calibration = selectors.calibration_get(pk)
    form = CertificateForm(request.POST, request.FILES)
    file = given_file(form.cleaned_data["file"]) if form.is_valid() else None
    if file is None:
        return _detail(request, calibration, attach=form)
    try:
        services.calibration_attach(actor=actor_of(request), calibration=calibration, file=file)
    except DomainError as problem:
        add_problem(form, problem)
        return _detail(request, selectors.calibration_get(pk), attach=form)
    messages.success(request, "The certificate is on record.")
    return redirect("labtests:calibration-detail", pk=pk)


@gate("labtests.calibration:strike")
@require_POST
def calibration_strike(request: HttpRequest, pk: int) -> HttpResponse:
    calibration = selectors.calibration_get(pk)
    form = ReasonForm(request.POST, auto_id="id_strike_%s")
    if not form.is_valid():
        return _detail(request, calibration, strike=form)
    try:
        services.calibration_strike(
            actor=actor_of(request), calibration=calibration, reason=form.cleaned_data["reason"]
        )
    except DomainError as problem:
        add_problem(form, problem)
        messages.warning(request, problem.message)
        return _detail(request, selectors.calibration_get(pk), strike=form)
    messages.success(request, "The calibration is struck. Tests that depend on it are held or in doubt.")
    return redirect("labtests:calibration-detail", pk=pk)
