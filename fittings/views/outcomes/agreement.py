"""A second fitter's look at the same person, and how far two fitters agree."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from core.gate.access import allowed, gate
from core.web.csv_export import csv_response
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.presentation.outcomes import agreement as presentation
from fittings.presentation.outcomes import measured_agreement as measured_presentation
from fittings.selectors.outcomes.agreement import all_agreements, open_for_second_look
from fittings.selectors.outcomes.measured_agreement import measured_agreements
from fittings.views.outcomes.outcomes import asked_of, wants_csv


@gate("fittings.outcome:read")
@never_cache
@require_safe
def agreement(request: HttpRequest) -> HttpResponseBase:
    asked = asked_of(request, "by", "band", "use")
    if asked.wanted is None:
        return render(request, "fittings/agreement.html", asked.context(), status=400)
    hides = asked.scope.hides
    with asked.scope.opened():
        kappas, looks = all_agreements(asked.wanted, hides=hides)
        measured = measured_agreements(asked.wanted, hides=hides)
    if wants_csv(request):
        rows = presentation.csv_rows(kappas, hides=hides, looks=looks)
        return csv_response("agreement.csv", presentation.COLUMNS, rows)
    if request.GET.get("as") == "measured-csv":
        rows = measured_presentation.measured_csv_rows(measured, hides=hides)
        return csv_response("measured-agreement.csv", measured_presentation.MEASURED_COLUMNS, rows)
    page = presentation.agreement_page(kappas, hides=hides)
    waiting = []
    if allowed(request.user, "fittings.second_look:write"):
        waiting = list(open_for_second_look(actor_of(request), on=timezone.localdate()))
    lines = measured_presentation.measured_lines(measured, hides=hides)
    published = measured_presentation.PUBLISHED
    context = asked.context(
        report=page,
        figures=page.figures,
        looks=presentation.look_lines(looks, hides=hides),
        waiting=waiting,
        measured=lines,
        published=published,
    )
    return render(request, "fittings/agreement.html", context)
