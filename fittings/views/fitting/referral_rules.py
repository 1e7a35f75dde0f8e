"""Versions of the referral rules: read by the staff, drafted by head office, adopted by a second person."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.web.forms import ReasonForm, add_problem
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.domain.fitting.stop_signs import STANDARD_SIGNS
from fittings.forms.fitting.referral_rules import ReferralRulesForm, initial_of
from fittings.models import ReferralRules
from fittings.presentation.fitting import referral_rules as presentation
from fittings.selectors.fitting.referral import referral_rules_get, referral_rules_list
from fittings.services.fitting.referral_rules import (
    ADOPT,
    WRITE,
    referral_rules_adopt,
    referral_rules_discard,
    referral_rules_draft,
)
from fittings.views.common import domain_errors_as_pages

READ = "fittings.referral_rules:read"


@gate(READ)
@never_cache
@require_safe
def referral_list(request: HttpRequest) -> HttpResponse:
    lines = [(rules, *presentation.state_words(rules)) for rules in referral_rules_list()]
    context = {"lines": lines, "may_draft": allowed(request.user, WRITE), "signs": STANDARD_SIGNS}
    return render(request, "fittings/referral_list.html", context)


@gate(WRITE)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def referral_new(request: HttpRequest) -> HttpResponse:
    """A new draft, begun from the rules in use."""
    form = ReferralRulesForm(request.POST) if request.method == "POST" else ReferralRulesForm(initial=_begin())
    if form.is_bound and form.is_valid():
        try:
            rules = referral_rules_draft(
                actor=actor_of(request),
                version=form.cleaned_data["version"],
                data=form.rules(),
                reason=form.cleaned_data["reason"],
            )
            return redirect("outcomes:referral-detail", pk=rules.pk)
        except DomainError as problem:
            add_problem(form, problem)
    return render(request, "fittings/referral_new.html", {"form": form}, status=400 if form.is_bound else 200)


def _begin() -> dict[str, Any]:
    current = ReferralRules.objects.filter(is_current=True).first()
    return initial_of(current) if current else {}


@gate(READ)
@never_cache
@require_safe
@domain_errors_as_pages
def referral_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """What a version says, beside the version in use."""
    return _detail_page(request, referral_rules_get(pk), ReasonForm())


def _detail_page(request: HttpRequest, rules: ReferralRules, form: ReasonForm) -> HttpResponse:
    current = ReferralRules.objects.filter(is_current=True).first()
    state, state_class = presentation.state_words(rules)
    actor = actor_of(request)
    context = {
        "rules": rules,
        "state": state,
        "state_class": state_class,
        "current": current,
        "lines": presentation.rule_lines(rules, current),
        "form_why": form,
        "is_author": rules.created_by_id == actor.pk,
        "may_adopt": allowed(actor, ADOPT) and not rules.is_current and rules.created_by_id != actor.pk,
        "may_discard": allowed(actor, WRITE) and rules.adopted_at is None,
    }
    return render(request, "fittings/referral_detail.html", context, status=400 if form.is_bound else 200)


@gate(ADOPT)
@require_POST
@domain_errors_as_pages
def referral_adoption(request: HttpRequest, pk: int) -> HttpResponse:
    def adopt(rules: ReferralRules, reason: str) -> HttpResponse:
        adopted = referral_rules_adopt(actor=actor_of(request), rules=rules, reason=reason)
        messages.success(request, f"{adopted.version} is in use. Past fittings and answers stay as they were judged.")
        return redirect("outcomes:referral-detail", pk=adopted.pk)

    return _with_reason(request, pk, adopt)


@gate(WRITE)
@require_POST
@domain_errors_as_pages
def referral_removal(request: HttpRequest, pk: int) -> HttpResponse:
    def discard(rules: ReferralRules, reason: str) -> HttpResponse:
        referral_rules_discard(actor=actor_of(request), rules=rules, reason=reason)
        messages.success(request, f"The draft {rules.version} is discarded.")
        return redirect("outcomes:referral-list")

    return _with_reason(request, pk, discard)


def _with_reason(request: HttpRequest, pk: int, act: Callable[[ReferralRules, str], HttpResponse]) -> HttpResponse:
    rules, form = referral_rules_get(pk), ReasonForm(request.POST)
    if not form.is_valid():
        return _detail_page(request, rules, form)
    return act(rules, form.cleaned_data["reason"])
