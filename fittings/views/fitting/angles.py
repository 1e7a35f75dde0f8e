"""Angles from marks on a picture: worked out for the page of a fitting and for looks."""

from __future__ import annotations

import json
import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from core.domain.quoting import quoted
from core.gate.access import gate
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.domain.fitting.angles import MeasuredTwice, measured_twice
from fittings.domain.fitting.marks import marks_from_data
from fittings.forms.fitting.picture_marks import MARK_ERRORS, MARKS_MAX
from fittings.presentation.fitting.angles import angle_lines
from fittings.selectors.fitting.cutoffs import current_cutoffs
from fittings.selectors.fitting.drafts import draft_state
from fittings.selectors.fitting.repeat_errors import repeat_error_of
from fittings.selectors.people.lists import fitting_get
from fittings.views.common import domain_errors_as_pages


@gate("fittings.fitting:write")
@never_cache
@require_POST
@domain_errors_as_pages
def draft_angle(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """What the marks of one measure give. Nothing is stored by it, and no picture is sent."""
    draft_state(request.user, key)
    return _answer(request)


@gate("fittings.fitting:write")
@never_cache
@require_POST
@domain_errors_as_pages
def fitting_angle(request: HttpRequest, pk: int) -> HttpResponse:
    """The same for looks that are added to a fitting or corrected."""
    fitting_get(request.user, pk)
    return _answer(request)


def _answer(request: HttpRequest) -> HttpResponse:
    try:
        measured = _measured(request.POST.get("marks", ""), request.POST.get("foot", ""))
    except MARK_ERRORS as problem:
        context = {"problem": str(problem)[:200] or "The marks can’t be read."}
        return render(request, "fittings/_angle.html", context, status=400)
    lines = angle_lines(measured, current_cutoffs(), repeat_error_of(actor_of(request), measured.kind))
    return render(request, "fittings/_angle.html", {"angle": lines, "foot": request.POST.get("foot", "")})


def _measured(text: str, foot: str) -> MeasuredTwice:
    if len(text) > MARKS_MAX:
        raise ValueError(f"marks must have at most {MARKS_MAX} characters, got {len(text)}")
    if foot not in ("left", "right"):
        raise ValueError(f"foot must be left or right, got {quoted(foot)}")
    given = marks_from_data(json.loads(text))
    if len(given) != 1:
        raise ValueError(f"one measure is worked out at a time, got {len(given)}")
    return measured_twice(given[0], foot)
