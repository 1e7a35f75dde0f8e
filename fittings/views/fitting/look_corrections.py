"""Correcting what was seen in motion at a finished fitting, or taking it back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from core.domain.errors import DomainError
from core.gate.access import gate
from core.web.forms import add_problem
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.domain.fitting.angles import KINDS
from fittings.domain.fitting.intake import Look
from fittings.domain.fitting.looks import condition_words
from fittings.forms.fitting.look_corrections import AngleForm, CorrectedLookForm, LookReasonForm
from fittings.forms.fitting.looks import picture_kinds
from fittings.models import Fitting, PictureAngle
from fittings.selectors.fitting.looks import look_numbered, picture_angle_get
from fittings.selectors.people.lists import fitting_get
from fittings.services.fitting import look_corrections as services
from fittings.views.common import camera_here, domain_errors_as_pages
from fittings.views.fitting.looks import add_look_problems, shoes_tried


@gate("fittings.fitting:write")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@camera_here
@domain_errors_as_pages
def look_correct(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Correct a look or the observation (number 0); a look can be taken back too."""
    fitting = fitting_get(request.user, pk)
    look, name = look_numbered(fitting, number)
    shoes = shoes_tried(fitting) | ({look.condition.shoe: name} if name else {})
    given = request.POST if request.method == "POST" else None
    form = CorrectedLookForm(given, look=look, shoes=list(shoes.items()))
    reason = LookReasonForm(given, only_correct=form.is_observation)
    if given is not None and reason.is_valid() and _corrected(request, fitting, number, form, reason):
        messages.success(request, "Corrected. The earlier record stays visible but no longer counts.")
        return redirect("fittings:fitting-detail", pk=pk)
    context = {
        "fitting": fitting,
        "what": condition_words(look.condition, name),
        "form": form,
        "reason": reason,
        "pictures": None if form.is_observation else picture_kinds(),
    }
    return render(request, "fittings/look_correct.html", context, status=200 if given is None else 400)


def _corrected(
    request: HttpRequest, fitting: Fitting, number: int, form: CorrectedLookForm, reason: LookReasonForm
) -> bool:
    """Correct what the form says; False where something is wrong, with the problems at their fields."""
    look: Look | None = None
    if not reason.takes_back():
        look = form.look({slug: slug for slug in form.slugs}) if form.is_valid() else None
        if look is None:
            if not form.errors:
                form.add_error(None, "Enter what was seen, or withdraw the look.")
            return False
    try:
        services.look_correct(
            actor=actor_of(request), fitting=fitting, number=number, look=look, reason=reason.cleaned_data["reason"]
        )
    except DomainError as problem:
        if problem.status != 400:
            raise
        if "reason" in problem.fields:
            add_problem(reason, problem)
        else:
            add_look_problems([form], problem)
        return False
    return True


@gate("fittings.fitting:write")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def angle_correct(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Replace a measure on a picture by two other readings, or take it back."""
    fitting = fitting_get(request.user, pk)
    angle = picture_angle_get(fitting, number)
    given = request.POST if request.method == "POST" else None
    form, reason = AngleForm(given, angle=angle), LookReasonForm(given)
    if given is not None and reason.is_valid() and _angle_corrected(request, fitting, angle, form, reason):
        messages.success(request, "Corrected. The earlier measurement stays visible but no longer counts.")
        return redirect("fittings:fitting-detail", pk=pk)
    context = {"fitting": fitting, "angle": angle, "kind": KINDS[angle.kind], "form": form, "reason": reason}
    return render(request, "fittings/angle_correct.html", context, status=200 if given is None else 400)


def _angle_corrected(
    request: HttpRequest, fitting: Fitting, angle: PictureAngle, form: AngleForm, reason: LookReasonForm
) -> bool:
    readings = None
    if not reason.takes_back():
        readings = form.readings() if form.is_valid() else None
        if readings is None:
            return False
    try:
        services.angle_correct(
            actor=actor_of(request),
            fitting=fitting,
            number=angle.pk,
            readings=readings,
            reason=reason.cleaned_data["reason"],
        )
    except DomainError as problem:
        if problem.status != 400:
            raise
        add_problem(reason if "reason" in problem.fields else form, problem)
        return False
    return True
