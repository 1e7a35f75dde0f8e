"""Pages of rigs: their state, their calibrations, stopping and clearing them."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.bench_tests import CalibrationForm, ReasonForm, RigForm
from labtests.forms.incidents import RigStopForm, SinceForm
from labtests.models import Rig
from labtests.presentation.bench import calibration_lines
from labtests.presentation.studies.check_shoes import status_line
from labtests.selectors.bench.rigs import rig_get, rig_state, rig_states
from labtests.selectors.scores.taking_back import doubt_reach
from labtests.selectors.studies import check_shoes


@gate("labtests.rig:view")
@require_safe
def rig_list(request: HttpRequest) -> HttpResponse:
    day = timezone.localdate()
    rows = [
        (state.rig, [calibration_lines.calibration_state_line(part, day) for part in state.quantities])
        for state in rig_states(day)
    ]
    may_write = allowed(request.user, "labtests.rig:write")
    return render(request, "labtests/rig_list.html", {"rigs": rows, "may_write": may_write})


@gate("labtests.rig:write")
@require_http_methods(["GET", "HEAD", "POST"])
def rig_create(request: HttpRequest) -> HttpResponse:
    is_sent = request.method == "POST"
    form = RigForm(request.POST) if is_sent else RigForm()
    if is_sent and form.is_valid():
        try:
            rig = services.rig_create(actor=actor_of(request), **form.cleaned_data)
        except DomainError as problem:
            add_problem(form, problem)
        else:
            messages.success(request, f"Rig {rig.code} is set up. Record its calibrations before testing on it.")
            return redirect("labtests:rig-detail", code=rig.code)
    return render(request, "labtests/rig_form.html", {"form": form}, status=status_of(form))


@gate("labtests.rig:view")
@require_safe
def rig_detail(request: HttpRequest, code: str) -> HttpResponse:
    return _detail(request, rig_get(code))


def _detail(
    request: HttpRequest,
    rig: Rig,
    *,
    form: CalibrationForm | None = None,
    reason: ReasonForm | RigStopForm | None = None,
) -> HttpResponse:
    day = timezone.localdate()
    doubt = check_shoes.doubts_of([rig]).get(rig.pk)
    switch = ReasonForm if rig.is_stopped else RigStopForm
    may_write = allowed(request.user, "labtests.rig:write")
    may_switch = allowed(request.user, "labtests.rig:clear" if rig.is_stopped else "labtests.rig:write")
    context = {
        "rig": rig,
        "quantities": [calibration_lines.calibration_state_line(part, day) for part in rig_state(rig, day).quantities],
        "status": status_line(check_shoes.statuses([rig], day)[0]),
        "history": calibration_lines.calibration_history(list(rig.calibrations.all()), day),
        "form": (form or CalibrationForm()) if may_write else None,
        "reason": (reason or switch(auto_id="id_switch_%s")) if may_switch else None,
        "reach": doubt_reach(doubt) if doubt else None,
        "may_propose": allowed(request.user, "labtests.incident:propose"),
    }
    has_problem = bool((form and form.errors) or (reason and reason.errors))
    return render(request, "labtests/rig_detail.html", context, status=400 if has_problem else 200)


@gate("labtests.rig:write")
@require_POST
def calibration_create(request: HttpRequest, code: str) -> HttpResponse:
    rig = rig_get(code)
    form = CalibrationForm(request.POST, request.FILES)
    if not form.is_valid():
        return _detail(request, rig, form=form)
    try:
        calibration = services.calibration_record(actor=actor_of(request), rig=rig, **form.given())
    except DomainError as problem:
        add_problem(form, problem)
        return _detail(request, rig, form=form)
    words = "is on record. It counts once somebody else has compared it with the certificate and signed it."
    messages.success(request, f"The calibration of {calibration.quantity} {words}")
    return redirect("labtests:rig-detail", code=rig.code)


@gate("labtests.rig:write")
@require_http_methods(["GET", "HEAD", "POST"])
def rig_stop(request: HttpRequest, code: str) -> HttpResponse:
    """Ask since when a rig is in doubt and show what that reaches, then stop it."""
    rig = rig_get(code)
    if request.method != "POST":
        return _stop_page(request, rig)
    form = RigStopForm(request.POST, auto_id="id_switch_%s")
    if form.is_valid():
        try:
            services.rig_stop(actor=actor_of(request), rig=rig, **form.cleaned_data)
        except DomainError as problem:
            add_problem(form, problem)
        else:
            messages.success(request, f"Rig {rig.code} is stopped: nothing measured on it is published.")
            return redirect("labtests:rig-detail", code=rig.code)
    return _detail(request, rig, reason=form)


def _stop_page(request: HttpRequest, rig: Rig) -> HttpResponse:
    """Show which tests and published shoes a stop would put in doubt, for a time that is asked about."""
    asked = SinceForm(request.GET)
    is_read = asked.is_valid()
    since = asked.cleaned_data["since"] if is_read else None
    context = {
        "rig": rig,
        "asked": asked,
        "form": RigStopForm(initial={"since": since}, auto_id="id_switch_%s"),
        "reach": doubt_reach(check_shoes.Doubt(rig, since)) if is_read else None,
    }
    return render(request, "labtests/rig_stop.html", context, status=200 if is_read else 400)


@gate("labtests.rig:clear")
@require_POST
def rig_clear(request: HttpRequest, code: str) -> HttpResponse:
    rig = rig_get(code)
    form = ReasonForm(request.POST, auto_id="id_switch_%s")
    if not form.is_valid():
        return _detail(request, rig, reason=form)
    try:
        rig = services.rig_clear(actor=actor_of(request), rig=rig, reason=form.cleaned_data["reason"])
    except DomainError as problem:
        add_problem(form, problem)
        return _detail(request, rig, reason=form)
    if rig.is_stopped:
        messages.warning(request, f"Those alarms are cleared, but rig {rig.code} stays stopped: {rig.stopped_because}")
    else:
        messages.success(request, f"Rig {rig.code} is cleared for publishing.")
    return redirect("labtests:rig-detail", code=rig.code)
