"""The pages of the stores: today, a fitting, its follow-ups; and the outcomes."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from catalogue.selectors import band_list
from core.context import units_of
from core.errors import DomainError
from core.models import Store
from core.permissions import gate
from core.selectors import stores_of
from fittings import forms, presentation, services
from fittings import permissions as permissions  # registers the actions named below
from fittings.cautions import left_out_words
from fittings.consent import CONSENT_TEXT
from fittings.domain.need import Need
from fittings.domain.stop_signs import refer_words
from fittings.drawings import target_drawing
from fittings.links import link_for
from fittings.models import Fitting
from fittings.pages import actor_of, add_problems, refusals_as_pages
from fittings.selectors.follow_ups import history_of
from fittings.selectors.lists import (
    fitting_get,
    fittings_on,
    follow_up_get,
    follow_ups_of,
    shoes_to_pick,
)
from fittings.selectors.needs import need_of
from fittings.selectors.outcomes import outcomes_for
from fittings.selectors.recommendations import Request, recommend, request_of_fitting, request_of_intake
from fittings.services.fitting import size_wanted

DUE_SHOWN = 10
PAGE = 30
RECOMMENDED = 8


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
    }
    return render(request, "fittings/home.html", context)


def _day(text: str) -> dt.date | None:
    try:
        day = parse_date(text)
    except ValueError:
        return None
    # Room on both sides for the days before and after.
    return day if day is not None and 1900 <= day.year <= 2200 else None


@gate("fittings.fitting:write")
@never_cache
@require_http_methods(["GET", "POST"])
@refusals_as_pages
def fitting_new(request: HttpRequest) -> HttpResponse:
    """A new fitting, on one page. Without consent the answer is this page's own, and nothing is kept."""
    stores = stores_of(actor_of(request))
    page = forms.IntakeForms(request.POST if request.method == "POST" else None, stores=stores)
    if request.method == "POST" and page.is_valid():
        answer = _record(request, page, stores)
        if answer is not None:
            return answer
    context = {"page": page, "consent_text": CONSENT_TEXT, "shoes": shoes_to_pick(published=False)}
    return render(request, "fittings/fitting_new.html", context, status=400 if page.person.is_bound else 200)


def _record(request: HttpRequest, page: forms.IntakeForms, stores: list[Store]) -> HttpResponse | None:
    store = next(each for each in stores if each.slug == page.person.cleaned_data["store"])
    intake = page.intake()
    try:
        recorded = services.fitting_record(actor=actor_of(request), store=store, intake=intake)
    except DomainError as problem:
        page.add_problems(problem.fields, problem.message)
        return None
    if recorded.fitting.kept:
        return redirect("fittings:fitting-detail", pk=recorded.fitting.pk)
    wanted = request_of_intake(intake, recorded.need, store, size_wanted(intake))
    context = _need_context(recorded.need, intake.stop_signs) | _shoes_context(request, wanted)
    return render(request, "fittings/fitting_not_kept.html", context)


def _need_context(need: Need, stop_signs: Any) -> dict[str, Any]:
    return {
        "need": presentation.need_lines(need),
        "drawing": target_drawing(need, band_list()),
        "refer": refer_words(stop_signs),
        "left_out_words": left_out_words(need),
    }


def _shoes_context(request: HttpRequest, wanted: Request) -> dict[str, Any]:
    asked = request.GET.getlist("shoe")[:RECOMMENDED]
    found = recommend(wanted, limit=RECOMMENDED, asked=asked)
    return {"recommended": presentation.recommendation_page(found, units_of(request)), "asked": asked}


@gate("fittings.fitting:read")
@never_cache
@require_safe
@refusals_as_pages
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
    picked = {"slug": request.GET.get("choose", ""), "size": _size_text(fitting)}
    choice_made = getattr(fitting, "choice", None)
    context: dict[str, Any] = {
        "fitting": fitting,
        "facts": presentation.intake_facts(fitting, units),
        "feet": presentation.feet_rows(fitting, units),
        "choice": choice_made,
        "chosen_probability": presentation.probability_words(choice_made.probability if choice_made else None),
        "try_ons": list(fitting.try_ons.select_related("shoe__brand")),
        "follow_ups": [presentation.follow_up_line(item, today) for item in _follow_ups(fitting)],
        "try_on_form": try_on or forms.TryOnForm(initial=picked, prefix="try"),
        "choice_form": choice or forms.ChoiceForm(initial=picked, prefix="choice"),
        "shoes": shoes_to_pick(published=True),
        "link": link_for(fitting),
    }
    context |= _need_context(need_of(fitting), fitting.stop_signs)
    context |= _shoes_context(request, request_of_fitting(fitting))
    status = 400 if try_on or choice else 200
    return render(request, "fittings/fitting_detail.html", context, status=status)


def _size_text(fitting: Fitting) -> str:
    return "" if fitting.size_eu is None else f"EU {fitting.size_eu.normalize():f}"


def _follow_ups(fitting: Fitting) -> Any:
    return fitting.follow_ups.select_related("fitting__store", "fitting__customer", "fitting__choice__shoe__brand")


@gate("fittings.fitting:write")
@require_POST
@refusals_as_pages
def try_on_add(request: HttpRequest, pk: int) -> HttpResponse:
    fitting = fitting_get(request.user, pk)
    form = forms.TryOnForm(request.POST, prefix="try")
    if form.is_valid():
        try:
            services.try_on_record(actor=actor_of(request), fitting=fitting, **form.cleaned_data)
            return redirect("fittings:fitting-detail", pk=pk)
        except DomainError as problem:
            add_problems(form, problem)
    return _detail_page(request, fitting, try_on=form)


@gate("fittings.fitting:write")
@require_POST
@refusals_as_pages
def choice_add(request: HttpRequest, pk: int) -> HttpResponse:
    fitting = fitting_get(request.user, pk)
    form = forms.ChoiceForm(request.POST, prefix="choice")
    if form.is_valid():
        try:
            services.choice_record(actor=actor_of(request), fitting=fitting, **form.cleaned_data)
            messages.success(request, "The choice is recorded and the follow-ups are made.")
            return redirect("fittings:fitting-detail", pk=pk)
        except DomainError as problem:
            if problem.code == "already_chosen":
                messages.info(request, problem.message)
                return redirect("fittings:fitting-detail", pk=pk)
            add_problems(form, problem)
    return _detail_page(request, fitting, choice=form)


@gate("fittings.follow_up:read")
@never_cache
@require_safe
def follow_up_list(request: HttpRequest) -> HttpResponse:
    """The follow-ups that are due, the newest first."""
    today = timezone.localdate()
    page = Paginator(follow_ups_of(request.user, due_on=today), PAGE).get_page(request.GET.get("page"))
    lines = [presentation.follow_up_line(item, today) for item in page.object_list]
    return render(request, "fittings/follow_up_list.html", {"page_obj": page, "lines": lines})


@gate("fittings.follow_up:answer")
@never_cache
@require_http_methods(["GET", "POST"])
@refusals_as_pages
def follow_up_answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Answers given by telephone or in the store."""
    follow_up = follow_up_get(request.user, pk)
    page = forms.AnswerForms(request.POST if request.method == "POST" else None, history=history_of(follow_up.fitting))
    if request.method == "POST" and follow_up.answered_at is None and page.is_valid():
        try:
            answered = services.follow_up_answer(actor=actor_of(request), follow_up=follow_up, answer=page.answer())
            messages.success(request, f"Recorded. {answered.recurrence_reasoning}")
            return redirect("fittings:fitting-detail", pk=follow_up.fitting_id)
        except DomainError as problem:
            add_problems(page.questions, problem)
    line = presentation.follow_up_line(follow_up, timezone.localdate())
    context = {"page": page, "line": line, "is_answered": follow_up.answered_at is not None}
    return render(request, "fittings/follow_up_answer.html", context, status=400 if page.questions.is_bound else 200)


@gate("fittings.outcome:read")
@never_cache
@require_safe
def outcomes(request: HttpRequest) -> HttpResponse:
    found = presentation.outcomes_page(outcomes_for(request.user), units_of(request))
    return render(request, "fittings/outcomes.html", {"found": found})
