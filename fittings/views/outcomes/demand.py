"""Demand against stock, and shoes in use."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from core.gate.access import gate
from core.web.csv_export import csv_response
from fittings import permissions as permissions  # registers the actions named below
from fittings.presentation.outcomes import demand as presentation
from fittings.selectors.outcomes.demand import demand_across, demand_over, year_before
from fittings.selectors.outcomes.shoes_in_use import shoes_in_use
from fittings.views.outcomes.outcomes import asked_of, wants_csv


@gate("fittings.outcome:read")
@never_cache
@require_safe
def demand(request: HttpRequest) -> HttpResponseBase:
    """The targets of the last twelve months (or since a month) by band and size, beside the pairs in stock.

    Over all stores always of the twelve months up to the last one that is over.
    """
    asked = asked_of(request, "by", "band", "use", "fitter", "until")
    if asked.wanted is None:
        return render(request, "fittings/demand.html", asked.context(), status=400)
    today, hides = timezone.localdate(), asked.scope.hides
    month = today.replace(day=1)
    since = year_before(month) if hides else asked.wanted.since or year_before(today)
    with asked.scope.opened():
        cells = demand_across(asked.scope.stores, month) if hides else demand_over(asked.scope.stores, since)
    if wants_csv(request):
        rows = presentation.demand_csv_rows(cells, asked.bands, hides=hides)
        return csv_response("demand.csv", presentation.DEMAND_COLUMNS, rows)
    page = presentation.demand_page(cells, asked.bands, since=since, hides=hides)
    return render(request, "fittings/demand.html", asked.context(report=page, figures=page.figures))


@gate("fittings.learning:read")
@never_cache
@require_safe
def shoe_list(request: HttpRequest) -> HttpResponseBase:
    """Shoes whose wearers report less comfort or more recurrences than those of other shoes of the band."""
    shoes = shoes_in_use(on=timezone.localdate())
    if wants_csv(request):
        return csv_response("shoes-in-use.csv", presentation.SHOE_COLUMNS, presentation.shoe_csv_rows(shoes))
    page = presentation.shoes_page(shoes)
    context = {"report": page, "figures": page.figures, "closer": request.GET.get("closer") == "1", "query": ""}
    return render(request, "fittings/shoes_in_use.html", context)
