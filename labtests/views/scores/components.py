"""Pages of the variance components, and of the planner that rests on them."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from core.gate.access import gate
from core.web.forms import status_of
from labtests.domain.uncertainty.planner import plan
from labtests.forms.planner import PlannerForm
from labtests.models import Rig
from labtests.presentation.scores import components as words
from labtests.selectors.scores import components


@gate("labtests.study:view")
@require_safe
def component_list(request: HttpRequest) -> HttpResponse:
    """How much repeats, days, tests and specimens scatter, as publications take it."""
    found = components.component_list()
    context = {
        "found": found,
        "levels": words.level_sheets(found),
        "rigs": words.rig_lines(found),
        "alike": words.alike_text(found.repeats_alike),
    }
    return render(request, "labtests/component_list.html", context)


@gate("labtests.study:view")
@require_safe
def planner(request: HttpRequest) -> HttpResponse:
    """How many specimens and repeats a wanted uncertainty takes."""
    rigs = {rig.code: rig for rig in Rig.objects.order_by("code")}
    is_asked = not request.GET.keys().isdisjoint(PlannerForm.base_fields)
    form = PlannerForm(request.GET if is_asked else None, rigs=list(rigs))
    context: dict[str, Any] = {"form": form}
    if form.is_bound and form.is_valid():
        asked = form.cleaned_data
        known = components.scatter_for_plan(rigs[asked["rig"]], asked["score"])
        if known is None:
            context["unknown"] = True
        else:
            found = plan(known, asked["wanted"], days=asked["days"])
            context |= {"plan": words.plan_table(found, asked["wanted"], asked["score"]), "known": known}
    return render(request, "labtests/planner.html", context, status=status_of(form))
