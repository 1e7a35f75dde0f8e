"""Head office: the first steps of a new practice."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from core.gate.access import gate
from core.web.first_steps import steps_for
from core.web.requests import actor_of


@gate("core.first_steps:view")
@require_safe
def first_steps_page(request: HttpRequest) -> HttpResponse:
    states = steps_for(actor_of(request))
    context = {"states": states, "done": sum(state.is_done for state in states)}
    return render(request, "core/first_steps.html", context)
