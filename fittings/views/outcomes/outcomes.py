"""The pages of the outcomes. Each figure is in a table and as CSV; Plotly is loaded where one looks closely."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from catalogue.selectors import BandRow, band_list
from core.gate.access import gate
from core.gate.context import units_of
from core.web.csv_export import csv_response
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.forms.outcomes import OutcomeFilterForm
from fittings.presentation.outcomes import outcomes as presentation
from fittings.presentation.outcomes.left_out import left_out_lines
from fittings.presentation.outcomes.risk_model import MODEL_COLUMNS, model_csv_rows, model_page
from fittings.selectors.outcomes.courses import OutcomeFilter
from fittings.selectors.outcomes.outcomes import Scope, outcomes_for, scope_of
from fittings.selectors.outcomes.released_people import released_filter
from fittings.selectors.outcomes.risk_model import risk_model
from fittings.selectors.people.staff import fitters_of


@dataclass(frozen=True, slots=True)
class OutcomeRequest:
    """What a page of the outcomes was asked for; `wanted` is None where the query string could not be read."""

    form: OutcomeFilterForm
    scope: Scope
    wanted: OutcomeFilter | None
    by: str
    closer: bool
    query: str
    bands: Sequence[BandRow]

    @property
    def status(self) -> int:
        return 200 if self.wanted else 400

    def context(self, **more: Any) -> dict[str, Any]:
        return {"form": self.form, "closer": self.closer, "query": self.query, "scope": self.scope, **more}


def asked_of(request: HttpRequest, *without: str) -> OutcomeRequest:
    """Read the filters (all but those named), within what the reader may see."""
    user = actor_of(request)
    scope = scope_of(user)
    bands = band_list()
    form = OutcomeFilterForm(request.GET, stores=scope.stores, bands=bands, fitters=fitters_of(scope.stores))
    for name in without:
        del form.fields[name]
    wanted, by = None, "target"
    if form.is_valid():
        store = form.store_chosen()
        if store is not None:
            scope = replace(scope, stores=(store,), hides=scope.hides and store.pk not in user.store_ids())
        wanted, by = scope.filter(**form.narrowed()), form.cleaned_data.get("by") or "target"
    query = request.GET.copy()
    for name in ("as", "closer"):
        query.pop(name, None)
    return OutcomeRequest(form, scope, wanted, by, request.GET.get("closer") == "1", query.urlencode(), bands)


def wants_csv(request: HttpRequest) -> bool:
    return request.GET.get("as") == "csv"


@gate("fittings.outcome:read")
@never_cache
@require_safe
def outcomes(request: HttpRequest) -> HttpResponseBase:
    asked = asked_of(request)
    if asked.wanted is None:
        return render(request, "fittings/outcomes.html", asked.context(), status=400)
    result = outcomes_for(actor_of(request), scope=asked.scope, wanted=asked.wanted, by=asked.by, bands=asked.bands)
    if wants_csv(request):
        return csv_response("outcomes.csv", presentation.GROUP_COLUMNS, presentation.group_rows(result))
    if request.GET.get("as") == "curve-csv":
        return csv_response("free-of-recurrence.csv", presentation.CURVE_COLUMNS, presentation.curve_csv_rows(result))
    figures = presentation.curve_figure(result) if asked.closer else {}
    page = presentation.outcomes_page(result, units_of(request))
    context = asked.context(
        report=page, figures=figures, compares=asked.by == "target", left_out=left_out_lines(result.total)
    )
    return render(request, "fittings/outcomes.html", context)


@gate("fittings.outcome:read")
@never_cache
@require_safe
def outcome_model(request: HttpRequest) -> HttpResponseBase:
    """The Cox model: how soon a recurrence came, by target, body mass, history and distance."""
    asked = asked_of(request, "by")
    if asked.wanted is None:
        return render(request, "fittings/outcome_model.html", asked.context(), status=400)
    today = timezone.localdate()
    with asked.scope.opened():
        wanted = released_filter(asked.wanted, on=today) if asked.scope.hides else asked.wanted
        model = risk_model(wanted, on=today)
    if wants_csv(request):
        return csv_response("model.csv", MODEL_COLUMNS, model_csv_rows(model, hides=asked.scope.hides))
    page = model_page(model, hides=asked.scope.hides)
    return render(request, "fittings/outcome_model.html", asked.context(report=page, figures=page.figures))
