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
from labtests.selectors.bench import overview
from labtests.selectors.studies import check_shoes
from labtests.selectors.studies.agreement import disagreements
from labtests.views import common as common

UPLOADS_SHOWN = 8


@gate("labtests.home:view")
@require_safe
def home(request: HttpRequest) -> HttpResponse:
    day = timezone.localdate()
    rigs = [state for state in overview.rig_states(day) if state.wants_attention]
    context = {
        "counts": overview.counts(),
        "waiting": overview.tests_waiting(),
        "held": overview.tests_held(),
        "uploads": overview.upload_list()[:UPLOADS_SHOWN],
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
        "shoes": overview.shoes_ready()[:UPLOADS_SHOWN],
        "may_upload": allowed(actor_of(request), "labtests.upload:create"),
    }
    return render(request, "labtests/home.html", context)
