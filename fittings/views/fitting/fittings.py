"""The pages of the stores: today, a fitting, its follow-ups."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.access import gate
from core.gate.context import units_of
from core.web.forms import add_problem
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings import services
from fittings.forms.fitting import choice as forms
from fittings.models import Fitting
from fittings.presentation.fitting import fittings as presentation
from fittings.presentation.fitting.angles import picture_angle_lines
from fittings.presentation.fitting.clinician import reply_lines, reply_reason
from fittings.presentation.fitting.looks import fitting_changes, look_lines, superseded_lines
from fittings.presentation.people.concerns import concern_line
from fittings.selectors.fitting.drafts import drafts_open
from fittings.selectors.fitting.looks import looks_at, picture_angles_of, superseded_looks
from fittings.selectors.fitting.needs import need_of
from fittings.selectors.fitting.recommendations import request_of_fitting
from fittings.selectors.fitting.referral import referral_of_fitting, reply_of
from fittings.selectors.fitting.shoe_names import shoe_of_title
from fittings.selectors.outcomes.agreement import is_open_for_second_look
from fittings.selectors.people.concerns import concerns_open
from fittings.selectors.people.lists import (
    choices_of,
    fitting_get,
    fittings_on,
    follow_ups_of,
    names_to_pick,
)
from fittings.selectors.people.requests import requests_open
from fittings.services.people.links import link_for
from fittings.views.common import domain_errors_as_pages, need_context, shoes_context

DUE_SHOWN = 10
PAGE = 30


@gate("fittings.fitting:read")
@never_cache
@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """The fittings of a day and the follow-ups that are due."""
    today = timezone.localdate()
    day = _day(request.GET.get("day", "")) or today
    due = follow_ups_of(request.user, due_on=today)
    context = {
        "day": day,
        "is_today": day == today,
        "previous_day": day - dt.timedelta(days=1),
        "next_day": day + dt.timedelta(days=1) if day < today else None,
        "fittings": list(fittings_on(request.user, day)),
        "due": [presentation.follow_up_line(item, today) for item in due[:DUE_SHOWN]],
        "due_count": due.count(),
        "concerns": [concern_line(item, today) for item in concerns_open(request.user)[:DUE_SHOWN]],
        "requests": list(requests_open(request.user)) if day == today else [],
        "drafts": list(drafts_open(request.user)[:DUE_SHOWN]),
    }
    return render(request, "fittings/home.html", context)


def _day(text: str) -> dt.date | None:
    try:
        day = parse_date(text)
    except ValueError:
        return None
    # Room on both sides for the days before and after.
    return day if day is not None and 1900 <= day.year <= 2200 else None


@gate("fittings.fitting:read")
@never_cache
@require_safe
@domain_errors_as_pages
def fitting_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _detail_page(request, fitting_get(request.user, pk))


def _detail_page(
    request: HttpRequest,
    fitting: Fitting,
    *,
    try_on: forms.TryOnForm | None = None,
    choice: forms.ChoiceForm | None = None,
) -> HttpResponse:
    """A fitting with its need, its shoes, and what can be done next; a form that was refused is shown as it was."""
    if not fitting.kept:
        return render(request, "fittings/fitting_empty.html", {"fitting": fitting})
    today, units = timezone.localdate(), units_of(request)
    picked = {"slug": _picked_name(request), "size": _size_text(fitting)}
    choices, reply = choices_of(fitting), reply_of(fitting)
    looks = looks_at(fitting)
    context: dict[str, Any] = {
        "fitting": fitting,
        "facts": presentation.intake_facts(fitting, units),
        "feet": presentation.feet_rows(fitting, units),
        "advised": presentation.advised_lines(fitting),
        "choice": fitting.choice,
        "pairs": presentation.pair_lines(choices),
        "has_shoe": any(not hasattr(choice, "correction") for choice in choices),
        "second_look_first": _second_look_first(request, fitting, today),
        "try_ons": list(fitting.try_ons.select_related("shoe__brand")),
        "look_changes": fitting_changes(looks),
        "looks": look_lines(looks),
        "corrected_looks": superseded_lines(superseded_looks(fitting)),
        "picture_angles": picture_angle_lines(picture_angles_of(fitting)),
        "follow_ups": [presentation.follow_up_line(item, today) for item in _follow_ups(fitting)],
        "try_on_form": try_on or forms.TryOnForm(initial=picked, prefix="try"),
        "choice_form": choice or forms.ChoiceForm(initial=picked | {"reason": reply_reason(reply)}, prefix="choice"),
        "shoes": names_to_pick(),
        "link": link_for(fitting),
        "reply": reply_lines(reply),
        "letters": list(fitting.letters.select_related("written_by")),
    }
    context |= need_context(need_of(fitting), referral_of_fitting(fitting))
    wishes = reply.wishes if reply else ()
    context |= shoes_context(request, request_of_fitting(fitting, wishes), request.GET.getlist("shoe"), reply)
    status = 400 if try_on or choice else 200
    return render(request, "fittings/fitting_detail.html", context, status=status)


def _picked_name(request: HttpRequest) -> str:
    """The name of the shoe that a link on this page picked."""
    picked = shoe_of_title(request.GET.get("choose", "").replace("\x00", " "))
    return picked.title if picked else ""


def _second_look_first(request: HttpRequest, fitting: Fitting, today: dt.date) -> bool:
    """Whether to offer a second look in the place of what the first fitter saw, which stays one click away."""
    if request.GET.get("seen") == "1":
        return False
    return is_open_for_second_look(actor_of(request), fitting, on=today)


def _size_text(fitting: Fitting) -> str:
    return "" if fitting.size_eu is None else f"EU {fitting.size_eu.normalize():f}"


def _follow_ups(fitting: Fitting) -> Any:
    follow_ups = fitting.follow_ups.with_lapsed(timezone.localdate())
    return follow_ups.select_related(
        "fitting__store", "fitting__customer", "fitting__choice__shoe__brand", "choice__shoe__brand"
    )


@gate("fittings.fitting:write")
@require_POST
@domain_errors_as_pages
def try_on_add(request: HttpRequest, pk: int) -> HttpResponse:
    fitting = fitting_get(request.user, pk)
    form = forms.TryOnForm(request.POST, prefix="try")
    if form.is_valid():
        try:
            services.try_on_record(actor=actor_of(request), fitting=fitting, **form.cleaned_data)
            return redirect("fittings:fitting-detail", pk=pk)
        except DomainError as problem:
            add_problem(form, problem)
    return _detail_page(request, fitting, try_on=form)


@gate("fittings.fitting:write")
@require_POST
@domain_errors_as_pages
def choice_add(request: HttpRequest, pk: int) -> HttpResponse:
    fitting = fitting_get(request.user, pk)
    form = forms.ChoiceForm(request.POST, prefix="choice")
    if form.is_valid():
        try:
            another = "another_pair" in request.POST
            services.choice_record(actor=actor_of(request), fitting=fitting, another_pair=another, **form.cleaned_data)
            messages.success(request, "The choice is recorded and the follow-ups are made.")
            return redirect("fittings:fitting-detail", pk=pk)
        except DomainError as problem:
            if problem.code == "already_chosen":
                messages.info(request, problem.message)
                return redirect("fittings:fitting-detail", pk=pk)
            add_problem(form, problem)
    return _detail_page(request, fitting, choice=form)
