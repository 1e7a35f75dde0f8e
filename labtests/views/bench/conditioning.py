"""Pages of the conditioning log: its entries, one entry, the chambers."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from core.audit import entries_of
from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.gate.context import units_of
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.bench_day import ChamberForm, LogFilterForm, SpecimenOutForm
from labtests.forms.bench_tests import ReasonForm
from labtests.models import ConditioningEntry
from labtests.presentation import bench_tests as presentation
from labtests.presentation.bench import bench_day as bench_presentation
from labtests.presentation.bench.climate import climate_drawings, climate_words
from labtests.selectors.bench import conditioning
from labtests.selectors.bench.climate import climate_of
from labtests.selectors.bench.conditioning import LogAsked
from labtests.selectors.bench_tests import history
from labtests.selectors.scores.methods import protocol_current
from labtests.views.common import page_of

TESTS_SHOWN = 50


@gate("labtests.conditioning:view")
@require_safe
def entry_list(request: HttpRequest) -> HttpResponse:
    form = LogFilterForm(request.GET)
    is_valid = form.is_valid()
    entries = conditioning.entry_list(LogAsked(**form.cleaned_data)) if is_valid else ConditioningEntry.objects.none()
    page = page_of(entries, request)
    now = timezone.now()
    lines = [bench_presentation.entry_line(entry, now) for entry in page.object_list]
    context = {"form": form, "page": page, "lines": lines}
    return render(request, "labtests/conditioning_list.html", context, status=200 if is_valid else 400)


@gate("labtests.conditioning:view")
@require_safe
def entry_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _detail(request, pk)


def _detail(
    request: HttpRequest, pk: int, *, out: SpecimenOutForm | None = None, strike: ReasonForm | None = None
) -> HttpResponse:
    entry = conditioning.entry_get(pk)
    may_write = allowed(request.user, "labtests.conditioning:write") and entry.struck_at is None
    tests = conditioning.tests_relying_on(entry)[:TESTS_SHOWN]
    context = {
        "entry": entry,
        "line": bench_presentation.entry_line(entry, timezone.now()),
        "facts": bench_presentation.entry_facts(entry),
        **_climate(request, entry),
        "tests": [(test, presentation.badge(test)) for test in tests],
        "history": history(entries_of(entry)),
        "out": (out or SpecimenOutForm()) if may_write and entry.out_at is None else None,
        "strike": (strike or ReasonForm(auto_id="id_strike_%s")) if may_write else None,
    }
    has_problem = bool((out and out.errors) or (strike and strike.errors))
    return render(request, "labtests/conditioning_detail.html", context, status=400 if has_problem else 200)


def _climate(request: HttpRequest, entry: ConditioningEntry) -> dict[str, Any]:
    """The climate of the chamber during the stay, by the protocol in use."""
    limit = protocol_current().to_domain().temperature_c
    shown = climate_of([entry.to_domain()], limit, until=max(entry.out_at or timezone.now(), entry.in_at))
    return {
        "climate_words": climate_words(shown.found),
        "climate": climate_drawings(shown, limit, units_of(request)),
    }


@gate("labtests.conditioning:write")
@require_POST
def specimen_take_out(request: HttpRequest, pk: int) -> HttpResponse:
    entry = conditioning.entry_get(pk)
    form = SpecimenOutForm(request.POST)
    if not form.is_valid():
        return _detail(request, pk, out=form)
    try:
        entry = services.specimen_out(actor=actor_of(request), entry=entry, out_at=form.cleaned_data["out_at"])
    except DomainError as problem:
        add_problem(form, problem)
        messages.warning(request, problem.message)
        return _detail(request, pk, out=form)
    words = bench_presentation.taken_out_words(entry)
    if entry.is_repeat:
        messages.info(request, f"{words} That was already recorded; nothing was recorded twice.")
    else:
        messages.success(request, words)
    return redirect("labtests:bench-day")


@gate("labtests.conditioning:write")
@require_POST
def entry_strike(request: HttpRequest, pk: int) -> HttpResponse:
    entry = conditioning.entry_get(pk)
    form = ReasonForm(request.POST, auto_id="id_strike_%s")
    if not form.is_valid():
        return _detail(request, pk, strike=form)
    try:
        services.conditioning_strike(actor=actor_of(request), entry=entry, reason=form.cleaned_data["reason"])
    except DomainError as problem:
        add_problem(form, problem)
        messages.warning(request, problem.message)
        return _detail(request, pk, strike=form)
    messages.success(request, "The entry is struck. Tests that waited for review with hours from it are held.")
    return redirect("labtests:conditioning-detail", pk=pk)


@gate("labtests.conditioning:view")
@require_safe
def chamber_list(request: HttpRequest) -> HttpResponse:
    return _chambers(request)


def _chambers(request: HttpRequest, form: ChamberForm | None = None) -> HttpResponse:
    may_write = allowed(request.user, "labtests.conditioning:write")
    context = {
        "chambers": conditioning.chamber_list(),
        "form": (form or ChamberForm()) if may_write else None,
    }
    return render(request, "labtests/chamber_list.html", context, status=status_of(form))


@gate("labtests.conditioning:write")
@require_POST
def chamber_create(request: HttpRequest) -> HttpResponse:
    form = ChamberForm(request.POST)
    if not form.is_valid():
        return _chambers(request, form)
    try:
        chamber = services.chamber_create(actor=actor_of(request), **form.cleaned_data)
    except DomainError as problem:
        add_problem(form, problem)
        return _chambers(request, form)
    messages.success(request, f"Chamber {chamber.code} is set up.")
    return redirect("labtests:chamber-list")
