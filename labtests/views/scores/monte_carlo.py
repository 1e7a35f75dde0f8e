"""The uncertainty of a test's scores by Monte Carlo, worked out when it is asked for."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from core.domain.figures import grouped
from core.gate.access import gate
from labtests.selectors.bench_tests import bench_test_get
from labtests.selectors.scores.monte_carlo import DRAWS, compared
from labtests.selectors.scores.scoring_models import result_by


@gate("labtests.test:view")
@require_safe
def test_monte_carlo(request: HttpRequest, pk: int) -> HttpResponse:
    test = bench_test_get(pk)
    result = result_by(test, request.GET.get("model", ""))
    lines = compared(test, result) if result is not None else ()
    context = {"test": test, "result": result, "lines": lines, "draws": grouped(DRAWS)}
    return render(request, "labtests/test_monte_carlo.html", context)
