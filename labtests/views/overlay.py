"""Curves of any tests laid over each other: the page, each drawing as a file, and the points."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from core.gate.access import gate
from core.gate.context import units_of
from core.web.csv_export import csv_response
from labtests.forms.workbench import numbers_in
from labtests.presentation import overlays
from labtests.selectors.overlay import MOST_TESTS, OverlaidTest, overlay
from labtests.views import common as common


def _asked(request: HttpRequest) -> list[OverlaidTest]:
    return overlay(numbers_in(request.GET.getlist("test"), most=MOST_TESTS))


@gate("labtests.test:view")
@require_safe
def curve_overlay(request: HttpRequest) -> HttpResponse:
    found = _asked(request)
    drawn = overlays.overlays_of(found, units_of(request))
    context = {
        "keys": overlays.keys_of(found),
        "overlays": drawn,
        "figures": {one.part: one.figure for one in drawn},
        "without": [one.test for one in found if not one.curves],
        "more": len(set(request.GET.getlist("test"))) > MOST_TESTS,
        "most": MOST_TESTS,
        "query": request.GET.urlencode(),
    }
    return render(request, "labtests/curve_overlay.html", context)


@gate("labtests.test:view")
@require_safe
def curve_overlay_picture(request: HttpRequest, part: str) -> HttpResponse:
    """One drawing as an SVG file."""
    found = _asked(request)
    drawn = next((one for one in overlays.overlays_of(found, units_of(request)) if one.part == part), None)
    if drawn is None:
        raise Http404
    context = {"overlay": drawn, "keys": overlays.keys_of(found), "is_file": True}
    response = render(request, "labtests/_overlay_drawing.html", context, content_type="image/svg+xml")
    name = content_disposition_header(as_attachment=True, filename=f"{part}.svg")
    response.headers["Content-Disposition"] = name or "attachment"
    return response


@gate("labtests.test:view")
@require_safe
def curve_overlay_points(request: HttpRequest) -> HttpResponseBase:
    """The points of all curves and differences, in SI units."""
    return csv_response("curves.csv", overlays.POINT_COLUMNS, overlays.point_rows(_asked(request)))
