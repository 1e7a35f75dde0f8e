"""Pages of temperature studies: plan, tests and coefficients, proposal, adoption."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.gate.context import units_of
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.bench_tests import ReasonForm
from labtests.forms.check_shoes import TemperatureForm
from labtests.models import TemperatureState, TemperatureStudy
from labtests.presentation.studies import temperature as words
from labtests.selectors.studies import temperature as studies
from labtests.views.common import page_of


@gate("labtests.study:view")
@require_safe
def temperature_list(request: HttpRequest) -> HttpResponse:
    context = {
        "page": page_of(studies.temperature_studies(), request),
        "may_plan": allowed(request.user, "labtests.study:write"),
        "basis": words.basis_words(studies.temperature_study_in_use()),
    }
    return render(request, "labtests/temperature_list.html", context)


@gate("labtests.study:write")
@require_http_methods(["GET", "HEAD", "POST"])
def temperature_create(request: HttpRequest) -> HttpResponse:
    is_sent = request.method == "POST"
    form = TemperatureForm(request.POST) if is_sent else TemperatureForm()
    if is_sent and form.is_valid():
        try:
            study = services.temperature_study_plan(actor=actor_of(request), **form.cleaned_data)
        except DomainError as problem:
            add_problem(form, problem)
        else:
            messages.success(request, "The study is planned. Its tests are uploaded like any other.")
            return redirect("labtests:temperature-detail", pk=study.pk)
    return render(request, "labtests/temperature_form.html", {"form": form}, status=status_of(form))


@gate("labtests.study:view")
@require_safe
def temperature_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _detail(request, studies.temperature_study_get(pk))


def _detail(request: HttpRequest, study: TemperatureStudy, refused: ReasonForm | None = None) -> HttpResponse:
    progress = studies.temperature_progress(study)
    context = {
        "study": study,
        "state": TemperatureState(study.state).label,
        "css": words.STATE_CSS[TemperatureState(study.state)],
        "coefficients": words.coefficient_lines(progress),
        "tests": words.test_lines(progress, units_of(request)),
        "step": {TemperatureState.OPEN: 2, TemperatureState.PROPOSED: 3}.get(TemperatureState(study.state), 0),
        "decisions": _decisions(request, study, progress),
        "form": refused or ReasonForm(),
    }
    return render(request, "labtests/temperature_detail.html", context, status=400 if refused else 200)


def _decisions(
    request: HttpRequest, study: TemperatureStudy, progress: studies.TemperatureProgress
) -> list[tuple[str, str, str]]:
    """What the reader may do: the address, the words of the button and its class."""
    writes, adopts = (allowed(request.user, f"labtests.study:{verb}") for verb in ("write", "adopt"))
    is_other = study.proposed_by_id != actor_of(request).pk
    possible = [
        (study.state == TemperatureState.OPEN and writes and progress.can_be_proposed, "propose", "Propose them", ""),
        (study.state == TemperatureState.PROPOSED and adopts and is_other, "adopt", "Take them into use", ""),
        (
            study.state in (TemperatureState.OPEN, TemperatureState.PROPOSED) and writes,
            "discard",
            "Discard the study",
            "button--quiet",
        ),
    ]
    return [(f"labtests:temperature-{verb}", text, css) for may, verb, text, css in possible if may]


@gate("labtests.study:write")
@require_POST
def temperature_propose(request: HttpRequest, pk: int) -> HttpResponse:
    return _carry_out(request, pk, services.temperature_study_propose, "The coefficients wait for a reviewer.")


@gate("labtests.study:adopt")
@require_POST
def temperature_adopt(request: HttpRequest, pk: int) -> HttpResponse:
    return _carry_out(request, pk, services.temperature_study_adopt, "The coefficients are in use from now on.")


@gate("labtests.study:write")
@require_POST
def temperature_discard(request: HttpRequest, pk: int) -> HttpResponse:
    return _carry_out(request, pk, services.temperature_study_discard, "The study is discarded.")


def _carry_out(request: HttpRequest, pk: int, service: Callable[..., Any], done: str) -> HttpResponse:
    study = studies.temperature_study_get(pk)
    form = ReasonForm(request.POST)
    if form.is_valid():
        try:
            service(actor=actor_of(request), study=study, reason=form.cleaned_data["reason"])
        except DomainError as problem:
            if problem.code == "wrong_state":
                messages.warning(request, problem.message)
                return redirect("labtests:temperature-detail", pk=pk)
            add_problem(form, problem)
        else:
            messages.success(request, done)
            return redirect("labtests:temperature-detail", pk=pk)
    return _detail(request, study, form)
