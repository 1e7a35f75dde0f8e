"""The lab's overview."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from core.gate.access import allowed, gate
from core.web.requests import actor_of
from labtests.models import Rig
from labtests.presentation.bench import calibration_lines
from labtests.presentation.studies.check_shoes import status_line
from labtests.presentation.studies.precision import disagreement_lines
from labtests.selectors.bench.rigs import rig_states
from labtests.selectors.bench.uploads import all_uploads
from labtests.selectors.bench_tests import counts_by_state, tests_held, tests_waiting
from labtests.selectors.shoes import shoes_ready
from labtests.selectors.studies import check_shoes
from labtests.selectors.studies.agreement import disagreements
from labtests.views import common as common

UPLOADS_SHOWN = 8


@gate("labtests.home:view")
@require_safe
def home(request: HttpRequest) -> HttpResponse:
    day = timezone.localdate()
    rigs = [state for state in rig_states(day) if state.wants_attention]
    context = {
        "counts": counts_by_state(),
        "waiting": tests_waiting(),
        "held": tests_held(),
        "uploads": all_uploads()[:UPLOADS_SHOWN],
        "rigs": [
            (
                state.rig,
                [
                    calibration_lines.calibration_state_line(part, day)
                    for part in state.quantities
                    if part.state != "in date"
                ],
            )
            for state in rigs
        ],
        "checks": [status_line(status) for status in check_shoes.statuses(Rig.objects.all(), timezone.localdate())],
        "disagreements": disagreement_lines(disagreements(day)),
        "shoes": shoes_ready()[:UPLOADS_SHOWN],
        "may_upload": allowed(actor_of(request), "labtests.upload:create"),
    }
    return render(request, "labtests/home.html", context)
