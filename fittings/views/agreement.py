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
from fittings.selectors.agreement import agreements, open_for_second_look, second_look_get
from fittings.services.second_look import second_observation_record
from fittings.views.common import refusals_as_pages
from fittings.views.outcomes import asked_of, wants_csv


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
    with asked.scope.opened():
        kappas = agreements(asked.wanted, hides=asked.scope.hides)
    if wants_csv(request):
        rows = presentation.csv_rows(kappas, hides=asked.scope.hides)
        return csv_response("agreement.csv", presentation.COLUMNS, rows)
    page = presentation.agreement_page(kappas, hides=asked.scope.hides)
    waiting = []
    if allowed(request.user, "fittings.second_look:write"):
        waiting = list(open_for_second_look(actor_of(request), on=timezone.localdate()))
    context = asked.context(report=page, figures=page.figures, waiting=waiting)
    return render(request, "fittings/agreement.html", context)
