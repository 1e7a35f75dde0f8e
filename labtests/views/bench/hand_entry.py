"""The page on which a test of a rig without a computer is typed in."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from catalogue.selectors.records.shoe_names import names_of_shoes
from core.gate.access import gate
from core.gate.context import units_of
from core.web.forms import status_of
from core.web.requests import actor_of
from labtests import services
from labtests.domain.files.handwritten import TestTyped, readings_file_of
from labtests.domain.files.problems import Problem
from labtests.forms.uploads import MORE_ROWS, ROWS, HandForm
from labtests.models.uploads import BY_HAND
from labtests.selectors.scores.methods import protocol_current
from labtests.services import GivenFile

IMPERIAL = {
    "temperature_unit": "degF",
    "clamp_unit": "lbf",
    "torque_unit": "in*lbf",
    "deflection_unit": "in",
}


@gate("labtests.upload:create")
@require_http_methods(["GET", "HEAD", "POST"])
def test_type_in(request: HttpRequest) -> HttpResponse:
    """Write what was typed as a readings file, and preview it like any other upload."""
    if request.method != "POST":
        return _page(request, HandForm(initial=_initial(request)))
    rows = _rows(request)
    if "more" in request.POST:
        return _page(request, HandForm(initial=request.POST.dict(), rows=rows + MORE_ROWS))
    form = HandForm(request.POST, rows=rows)
    if not form.is_valid():
        return _page(request, form)
    typed = form.typed()
    file = GivenFile(_name_of(typed), readings_file_of(typed).encode())
    verdict = services.upload_preview(actor=actor_of(request), name=file.name, data=file.data)
    if verdict.rejected:
        form.add_problems([Problem(**entry) for entry in verdict.rejected], typed)
        return _page(request, form)
    batch = services.batch_stage(actor=actor_of(request), files=[file], source=BY_HAND)
    return redirect("labtests:upload-preview", batch=batch)


def _rows(request: HttpRequest) -> int:
    given = request.POST.get("rows", "")
    return int(given) if given.isdecimal() and len(given) < 4 else ROWS


def _name_of(typed: TestTyped) -> str:
    stamp = "".join(sign for sign in typed.performed[:16] if sign.isdecimal())
    return f"by-hand-{typed.specimen}-{stamp}.csv"


def _initial(request: HttpRequest) -> dict[str, Any]:
    units = IMPERIAL if units_of(request) == "imperial" else {}
    known = {name: request.GET.get(name, "").replace("\x00", "") for name in ("shoe", "specimen")}
    return {"operator": actor_of(request).username, "performed": timezone.localtime(), **known, **units}


def _page(request: HttpRequest, form: HandForm) -> HttpResponse:
    context = {"form": form, "names": names_of_shoes(), "target": protocol_current().to_domain().target}
    return render(request, "labtests/test_type_in.html", context, status=status_of(form))
