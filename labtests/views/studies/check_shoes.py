"""Pages of check shoes: all rigs at a glance, the chart of one, who is on duty."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from core.domain.errors import DomainError
from core.domain.quoting import quoted
from core.gate.access import allowed, gate
from core.gate.context import units_of
from core.web.forms import add_problem
from core.web.people import names_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.bench_tests import ReasonForm
from labtests.forms.check_shoes import DesignateForm
from labtests.models import CheckDuty, Rig
from labtests.presentation.studies import check_shoes as words
from labtests.selectors.bench.rigs import rig_get
from labtests.selectors.studies import check_shoes, studies, wear

STUDIES_SHOWN = 8


@gate("labtests.check:view")
@require_safe
def check_home(request: HttpRequest) -> HttpResponse:
    """Everything that shows whether the bench can be believed."""
    statuses = check_shoes.statuses(Rig.objects.all(), timezone.localdate())
    context = {
        "statuses": [words.status_line(status) for status in statuses],
        "studies": studies.study_list()[:STUDIES_SHOWN],
        "worn": wear.worn_specimens()[:STUDIES_SHOWN],
        "may_plan": allowed(request.user, "labtests.study:write"),
    }
    return render(request, "labtests/check_home.html", context)


@gate("labtests.check:view")
@require_safe
def check_detail(request: HttpRequest, code: str) -> HttpResponse:
    return _detail(request, rig_get(code))


def _detail(
    request: HttpRequest, rig: Rig, *, designate: DesignateForm | None = None, retire: ReasonForm | None = None
) -> HttpResponse:
    duties = list(check_shoes.duty_list(rig))
    duty = _duty_asked(request, duties)
    on_duty = next((each for each in duties if each.retired_at is None), None)
    status = check_shoes.statuses([rig], timezone.localdate())[0]
    doubt = check_shoes.doubts_of([rig]).get(rig.pk)
    may_retire = on_duty is not None and allowed(request.user, "labtests.check:retire")
    may_designate = on_duty is None and allowed(request.user, "labtests.check:write")
    context = {
        "rig": rig,
        "duty": duty,
        "duties": duties,
        "status": words.status_line(status),
        "sheets": _sheets(request, duty) if duty else [],
        "alarms": [words.alarm_line(alarm) for alarm in check_shoes.alarms_of(duty)[: words.SHOWN_POINTS]]
        if duty
        else [],
        "false_alarms": words.false_alarm_words(),
        "doubt": doubt,
        "n_doubted": check_shoes.tests_in_doubt(doubt).count() if doubt else 0,
        # A form with problems is shown in any case: somebody else may have designated or retired one meanwhile.
        "designate": designate or (DesignateForm() if may_designate else None),
        "retire": retire or (ReasonForm(auto_id="id_retire_%s") if may_retire else None),
    }
    has_problem = bool((designate and designate.errors) or (retire and retire.errors))
    return render(request, "labtests/check_detail.html", context, status=400 if has_problem else 200)


def _sheets(request: HttpRequest, duty: CheckDuty) -> list[words.ChartSheet]:
    charted = check_shoes.check_series(duty)
    names = names_of(point.operator for series in charted for point in series.points)
    return [words.chart_sheet(series, units_of(request), names) for series in charted]


def _duty_asked(request: HttpRequest, duties: list[CheckDuty]) -> CheckDuty | None:
    """The check shoe asked for by number, else the newest."""
    asked = request.GET.get("duty", "")
    return next((duty for duty in duties if str(duty.pk) == asked), duties[0] if duties else None)


@gate("labtests.check:write")
@require_POST
def check_designate(request: HttpRequest, code: str) -> HttpResponse:
    rig = rig_get(code)
    form = DesignateForm(request.POST)
    if not form.is_valid():
        return _detail(request, rig, designate=form)
    given = form.cleaned_data
    specimen = studies.specimen_named(given["specimen"])
    if specimen is None:
        form.add_error("specimen", f"There is no specimen {quoted(given['specimen'])}; upload a test of it first.")
        return _detail(request, rig, designate=form)
    try:
        duty = services.check_shoe_designate(
            actor=actor_of(request), rig=rig, specimen=specimen, since=given["since"], reason=given["reason"]
        )
    except DomainError as problem:
        add_problem(form, problem)
        return _detail(request, rig, designate=form)
    messages.success(request, f"{duty.specimen.code} is the check shoe of {rig.code}.")
    return redirect("labtests:check-detail", code=rig.code)


@gate("labtests.check:retire")
@require_POST
def check_retire(request: HttpRequest, code: str) -> HttpResponse:
    rig = rig_get(code)
    duty = check_shoes.duty_current(rig)
    # Somebody else may have retired it meanwhile: then there is no form that could show a problem.
    if duty is None:
        messages.warning(request, f"Rig {rig.code} has no check shoe on duty.")
        return redirect("labtests:check-detail", code=rig.code)
    form = ReasonForm(request.POST, auto_id="id_retire_%s")
    if not form.is_valid():
        return _detail(request, rig, retire=form)
    try:
        services.check_shoe_retire(actor=actor_of(request), duty=duty, reason=form.cleaned_data["reason"])
    except DomainError as problem:
        add_problem(form, problem)
        return _detail(request, rig, retire=form)
    messages.success(request, f"{duty.specimen.code} is off duty. Designate another before the next shoe is tested.")
    return redirect("labtests:check-detail", code=rig.code)
