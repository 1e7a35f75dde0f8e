"""Pages of wear series: which specimens were tested after distances, and one of them."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from core.gate.access import gate
from core.gate.context import units_of
from labtests.forms.check_shoes import WornForm
from labtests.forms.quantities import WORN
from labtests.presentation.studies import wear as words
from labtests.selectors.scores import methods
from labtests.selectors.studies import wear
from labtests.views.common import page_of


@gate("labtests.study:view")
@require_safe
def wear_list(request: HttpRequest) -> HttpResponse:
    return render(request, "labtests/wear_list.html", {"page": page_of(wear.worn_specimens(), request)})


@gate("labtests.study:view")
@require_safe
def wear_detail(request: HttpRequest, code: str) -> HttpResponse:
    specimen = wear.specimen_get(code)
    system = units_of(request)
    quantity = WORN[WornForm(request.GET).chosen()]
    points = wear.wear_points(specimen)
    model = methods.scoring_model_current()
    listed = list(WORN.values())
    context = {
        "specimen": specimen,
        "model": model,
        "quantity": quantity,
        "quantities": listed,
        "sheet": words.wear_sheet(points, quantity, methods.bands_of(model.scale), system),
        "rows": words.wear_rows(points, listed, system),
    }
    return render(request, "labtests/wear_detail.html", context)
