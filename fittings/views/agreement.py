"""A second fitter's look at the same person, and how far two fitters agree."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from core.domain.errors import DomainError
from core.gate.permissions import allowed, gate
from core.web.csv_export import csv_response
from core.web.forms import add_problem
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.domain.fitting.bounds import LIMITS
from fittings.domain.fitting.intake import FootIntake
from fittings.forms.fields import GRADE_CHOICES, pick_field
from fittings.presentation import agreement as presentation
from fittings.presentation import measured_agreement as measured_presentation
from fittings.selectors.agreement import agreements, open_for_second_look, second_look_get
from fittings.selectors.measured_agreement import measured_agreements
from fittings.services.second_look import second_observation_record
from fittings.views.common import refusals_as_pages
from fittings.views.outcomes import asked_of, wants_csv


def measure_field(label: str, limits: str) -> forms.FloatField:
    low, high = LIMITS[limits]
    widget = forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"})
    return forms.FloatField(label=label, required=False, min_value=low, max_value=high, widget=widget)


class SecondFootForm(forms.Form):
    """One foot as the second fitter sees it."""

    pronation = pick_field("Pronation", GRADE_CHOICES)
    tibial_rotation = pick_field("Tibial rotation", GRADE_CHOICES)
    rearfoot_eversion = pick_field("Rearfoot eversion", GRADE_CHOICES)
    fpi6 = forms.IntegerField(
        label="Foot Posture Index",
        required=False,
        min_value=int(LIMITS["fpi6"][0]),
        max_value=int(LIMITS["fpi6"][1]),
        help_text="Sum of six items, −12 to 12.",
    )
    rearfoot_eversion_deg = measure_field("Rearfoot eversion, degrees", "degrees")
    pronation_deg = measure_field("Pronation, degrees", "degrees")
    tibial_rotation_deg = measure_field("Tibial rotation, degrees", "degrees")
    navicular_drop_mm = measure_field("Navicular drop, mm", "navicular_drop_mm")
    length_mm = measure_field("Foot length, mm", "length_mm")
    width_mm = measure_field("Foot width, mm", "width_mm")

    def foot(self) -> FootIntake:
        return FootIntake(**self.cleaned_data)


@gate("fittings.second_look:write")
@never_cache
@require_http_methods(["GET", "POST"])
@refusals_as_pages
def second_look(request: HttpRequest, pk: int) -> HttpResponse:
    """What a second fitter sees, asked for without showing what the first one wrote down."""
    fitting = second_look_get(actor_of(request), pk)
    if fitting is None:
        raise Http404("There is no such fitting, or it is not of your store.")
    given = request.POST if request.method == "POST" else None
    left, right = SecondFootForm(given, prefix="left"), SecondFootForm(given, prefix="right")
    if given is not None and left.is_valid() and right.is_valid():
        try:
            second_observation_record(actor=actor_of(request), fitting=fitting, left=left.foot(), right=right.foot())
            messages.success(request, "The second look is recorded. The fitting itself is as it was.")
            return redirect("outcomes:agreement")
        except DomainError as problem:
            if problem.status != 400:
                raise
            add_problem(left, problem)
    context = {"fitting": fitting, "feet": [("Left foot", left), ("Right foot", right)], "left": left, "right": right}
    return render(request, "fittings/second_look.html", context, status=200 if given is None else 400)


@gate("fittings.outcome:read")
@never_cache
@require_safe
def agreement(request: HttpRequest) -> HttpResponseBase:
    asked = asked_of(request, "by", "band", "use")
    if asked.wanted is None:
        return render(request, "fittings/agreement.html", asked.context(), status=400)
    hides = asked.scope.hides
    with asked.scope.opened():
        kappas = agreements(asked.wanted, hides=hides)
        measured = measured_agreements(asked.wanted, hides=hides)
    if wants_csv(request):
        rows = presentation.csv_rows(kappas, hides=hides)
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
    context = asked.context(report=page, figures=page.figures, waiting=waiting, measured=lines, published=published)
    return render(request, "fittings/agreement.html", context)
