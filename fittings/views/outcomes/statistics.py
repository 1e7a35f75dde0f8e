"""The page of the statistician's export."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from core.gate.access import gate
from core.web.forms import ReasonForm, problems_in, status_of
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.presentation.outcomes import statistics as presentation
from fittings.selectors.outcomes.statistics import statistics_exports
from fittings.services.outcomes.statistics import statistics_export
from fittings.views.common import domain_errors_as_pages

EXPORTS_SHOWN = 20


@gate("fittings.statistics:export")
@never_cache
@require_http_methods(["GET", "POST"])
@domain_errors_as_pages
def statistics(request: HttpRequest) -> HttpResponse:
    """What an export holds, those made so far, and a new one for a reason."""
    form = ReasonForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        with problems_in(form):
            reason = form.cleaned_data["reason"]
            made = statistics_export(actor=actor_of(request), reason=reason, written=presentation.rows_csv)
            return presentation.zip_response(made.table, made.record.pk)
    context = {
        "form": form,
        "columns": presentation.dictionary_rows(),
        "exports": list(statistics_exports()[:EXPORTS_SHOWN]),
    }
    return render(request, "fittings/statistics.html", context, status=status_of(form))
