"""Head office: versions of the rules, a dry run over past fittings, adoption."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.access import gate
from core.web.csv_export import csv_response
from core.web.forms import ReasonForm, add_problem
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.forms.fitting.rules import NeedRulesForm, initial_of
from fittings.models import NeedRules
from fittings.presentation.fitting import rules as presentation
from fittings.selectors.fitting.rules_trial import rules_get, rules_list
from fittings.services.fitting.rules import need_rules_adopt, need_rules_discard, need_rules_draft
from fittings.services.fitting.rules_trial import rules_try
from fittings.views.common import domain_errors_as_pages
from fittings.views.outcomes.outcomes import wants_csv


@gate("fittings.need_rules:read")
@never_cache
@require_safe
def need_rules_list(request: HttpRequest) -> HttpResponse:
    lines = [(rules, *presentation.state_words(rules)) for rules in rules_list()]
    return render(request, "fittings/rules_list.html", {"lines": lines})


@gate("fittings.need_rules:write")
@never_cache
@require_http_methods(["GET", "POST"])
@domain_errors_as_pages
def need_rules_new(request: HttpRequest) -> HttpResponse:
    """A new draft, begun from the rules in use or from those named by `from`."""
    form = NeedRulesForm(request.POST) if request.method == "POST" else NeedRulesForm(initial=_begin(request))
    if request.method == "POST" and form.is_valid():
        try:
            rules = need_rules_draft(
                actor=actor_of(request),
                version=form.cleaned_data["version"],
                data=form.rules(),
                match=form.match(),
                reason=form.cleaned_data["reason"],
            )
            return redirect("outcomes:rules-detail", pk=rules.pk)
        except DomainError as problem:
            add_problem(form, problem)
    status = 400 if form.is_bound else 200
    return render(request, "fittings/rules_new.html", {"form": form}, status=status)


def _begin(request: HttpRequest) -> dict[str, Any]:
    named = request.GET.get("from", "")
    rules = NeedRules.objects.filter(version=named[:20]).first() if named and "\x00" not in named else None
    rules = rules or NeedRules.objects.filter(is_current=True).first()
    return initial_of(rules) if rules else {}


@gate("fittings.need_rules:read")
@never_cache
@require_safe
@domain_errors_as_pages
def need_rules_detail(request: HttpRequest, pk: int) -> HttpResponseBase:
    """What a version says, and what it would have said of past fittings."""
    rules = rules_get(pk)
    trial = rules_try(actor=actor_of(request), rules=rules)
    if wants_csv(request):
        return csv_response("dry-run.csv", presentation.TRIAL_COLUMNS, presentation.trial_csv_rows(trial))
    return _detail_page(request, rules, ReasonForm(), trial=trial)


def _detail_page(request: HttpRequest, rules: NeedRules, form: ReasonForm, *, trial: Any = None) -> HttpResponse:
    current = NeedRules.objects.filter(is_current=True).first()
    page = presentation.trial_page(trial or rules_try(actor=actor_of(request), rules=rules))
    state, state_class = presentation.state_words(rules)
    context = {
        "rules": rules,
        "state": state,
        "state_class": state_class,
        "current": current,
        "lines": presentation.rule_lines(rules, current),
        "report": page,
        "figures": page.figures,
        "closer": request.GET.get("closer") == "1",
        "query": "",
        "form_why": form,
        "may_discard": rules.adopted_at is None,
    }
    return render(request, "fittings/rules_detail.html", context, status=400 if form.is_bound else 200)


@gate("fittings.need_rules:write")
@require_POST
@domain_errors_as_pages
def need_rules_adoption(request: HttpRequest, pk: int) -> HttpResponse:
    def adopt(rules: NeedRules, reason: str) -> HttpResponse:
        adopted = need_rules_adopt(actor=actor_of(request), rules=rules, reason=reason)
        messages.success(request, f"{adopted.version} is in use. Past fittings keep the rules used for them.")
        return redirect("outcomes:rules-detail", pk=adopted.pk)

    return _with_reason(request, pk, adopt)


@gate("fittings.need_rules:write")
@require_POST
@domain_errors_as_pages
def need_rules_removal(request: HttpRequest, pk: int) -> HttpResponse:
    def discard(rules: NeedRules, reason: str) -> HttpResponse:
        need_rules_discard(actor=actor_of(request), rules=rules, reason=reason)
        messages.success(request, f"The draft {rules.version} is discarded.")
        return redirect("outcomes:rules-list")

    return _with_reason(request, pk, discard)


def _with_reason(request: HttpRequest, pk: int, act: Callable[[NeedRules, str], HttpResponse]) -> HttpResponse:
    rules, form = rules_get(pk), ReasonForm(request.POST)
    if not form.is_valid():
        return _detail_page(request, rules, form)
    return act(rules, form.cleaned_data["reason"])
