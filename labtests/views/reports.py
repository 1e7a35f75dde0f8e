"""The report of a test, to print."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from core.audit import entries_of
from core.gate.access import gate
from core.gate.context import units_of
from labtests.models import Rig
from labtests.presentation import bench_tests as presentation
from labtests.presentation import drawings
from labtests.presentation.bench.calibration_lines import certificate_lines
from labtests.selectors.bench_test_export import Certificates
from labtests.selectors.bench_tests import Scales, bench_test_get, history
from labtests.selectors.scores.scoring_models import result_by
from labtests.views import common as common

PAPERS = ("a4", "letter")


@gate("labtests.test:view")
@require_safe
def test_report(request: HttpRequest, pk: int) -> HttpResponse:
    """Conditions, readings, budgets, curves, certificates and people of a test on paper."""
    test, system = bench_test_get(pk), units_of(request)
    result = result_by(test, "")
    placement = Scales().place(result) if result else None
    covering = Certificates(Rig.objects.filter(pk=test.rig_id)).covering(test)
    context = {
        "test": test,
        "badge": presentation.badge(test),
        "result": result,
        "scores": presentation.score_lines(result),
        "placement": placement,
        "probabilities": presentation.probabilities(placement),
        "conditions": presentation.condition_lines(test, system),
        "facts": presentation.specimen_facts(test, system),
        "people": presentation.people_lines(test),
        "readings": presentation.reading_table(test, system),
        "drawings": drawings.drawings_of(test.curves.all(), system, test.protocol.to_domain().target),
        "certificates": certificate_lines(covering),
        "history": history(entries_of(test)),
        "paper": request.GET.get("paper") if request.GET.get("paper") in PAPERS else PAPERS[0],
        "printed_at": timezone.now(),
        "site": settings.SITE_URL,
    }
    return render(request, "labtests/test_report.html", context)
