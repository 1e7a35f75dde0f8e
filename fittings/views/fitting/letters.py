"""Letters to a clinician: written, printed, and the reply recorded."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from core.domain.errors import DomainError
from core.gate.access import gate
from core.gate.context import units_of
from core.web.forms import add_problem
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings import services
from fittings.domain.fitting.referral import TO_SAY
from fittings.forms.fitting.letter import LetterForm, ReplyForm
from fittings.models import Fitting
from fittings.presentation.fitting import fittings as presentation
from fittings.presentation.fitting.letter import letter_lines
from fittings.selectors.fitting.referral import letter_get, referral_of_fitting
from fittings.selectors.people.lists import fitting_get
from fittings.views.common import domain_errors_as_pages

WRITE = "fittings.letter:write"


def _stored(request: HttpRequest, pk: int) -> Fitting:
    fitting = fitting_get(request.user, pk)
    if not fitting.kept:
        message = "No data is stored about this customer: there was no consent, or it was withdrawn."
        raise DomainError(message, code="not_kept", status=409)
    return fitting


@gate(WRITE)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def letter_new(request: HttpRequest, pk: int) -> HttpResponse:
    """What to say, and a letter to take along."""
    fitting = _stored(request, pk)
    form = LetterForm(request.POST if request.method == "POST" else None, initial={"submission": uuid.uuid4()})
    if form.is_bound and form.is_valid():
        try:
            letter = services.letter_write(actor=actor_of(request), fitting=fitting, **form.cleaned_data)
            return redirect("fittings:letter-detail", pk=letter.pk)
        except DomainError as problem:
            if problem.status != 400:
                raise
            add_problem(form, problem)
    context = {"fitting": fitting, "form": form, "refer": referral_of_fitting(fitting).advice, "to_say": TO_SAY}
    return render(request, "fittings/letter_new.html", context, status=400 if form.is_bound else 200)


@gate(WRITE)
@never_cache
@require_safe
@domain_errors_as_pages
def letter_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """The letter, to be printed on one sheet."""
    letter = letter_get(actor_of(request), pk)
    fitting, units = letter.fitting, units_of(request)
    context: dict[str, Any] = {
        "letter": letter,
        "fitting": fitting,
        "facts": presentation.intake_facts(fitting, units),
        "lines": letter_lines(fitting, units),
    }
    return render(request, "fittings/letter_detail.html", context)


@gate(WRITE)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def reply_new(request: HttpRequest, pk: int) -> HttpResponse:
    """What a clinician answered, with or without a letter before."""
    fitting = _stored(request, pk)
    initial = {"submission": uuid.uuid4(), "received_on": timezone.localdate()}
    form = ReplyForm(request.POST if request.method == "POST" else None, initial=initial)
    if form.is_bound and form.is_valid():
        try:
            services.reply_record(
                actor=actor_of(request),
                fitting=fitting,
                given=form.given(),
                submission=form.cleaned_data["submission"],
            )
            messages.success(request, "The reply is recorded. It comes before our rules.")
            return redirect("fittings:fitting-detail", pk=pk)
        except DomainError as problem:
            if problem.status != 400:
                raise
            add_problem(form, problem)
    context = {"fitting": fitting, "form": form}
    return render(request, "fittings/reply_new.html", context, status=400 if form.is_bound else 200)
