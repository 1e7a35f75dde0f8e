"""Where to start: a visitor's questions answered by the same rules as a fitting, and nothing stored."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from catalogue.domain import published_trials
from catalogue.selectors import band_list
from catalogue.views.size_system import size_system_of
from core.gate.access import PUBLIC, gate
from core.gate.context import units_of
from core.web.forms import status_of
from fittings.domain.fitting.referral import Reported, referral_at_fitting
from fittings.domain.fitting.referral_rules import ReferralRules
from fittings.domain.fitting.stop_signs import same_day_words
from fittings.forms.people.start import NOW, StartForm
from fittings.presentation.fitting.drawings import target_drawing
from fittings.presentation.fitting.fittings import need_lines
from fittings.presentation.people.start import distance_words, not_looked_at_words, start_lines, worn_words
from fittings.presentation.people.start_code import answers_of, start_code
from fittings.selectors.fitting.referral import current_referral_rules
from fittings.selectors.people.start import start_for, worn_named
from fittings.services.people.start_code import start_code_for


@gate(PUBLIC)
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def start(request: HttpRequest) -> HttpResponse:
    """Ask, and answer on the same page. The answers come in the body, which no log has, and are gone afterwards."""
    units = units_of(request)
    rules = current_referral_rules().rules
    signs = rules.signs
    form = StartForm(request.POST if request.method == "POST" else None, units=units, signs=signs)
    context: dict[str, Any] = {"form": form, "canonical": request.path}
    is_answered = request.method == "POST" and form.is_valid()
    if is_answered and form.cleaned_data["signs"]:
        context["signs"] = [signs[code] for code in form.cleaned_data["signs"]]
        context["same_day"] = same_day_words(form.cleaned_data["signs"], signs)
    elif is_answered:
        context |= _answer(form, units, rules, _size_system(request, form))
    return render(request, "fittings/start.html", context, status=status_of(form))


def _size_system(request: HttpRequest, form: StartForm) -> str:
    """Return the system in which the size was written, or that of the reader's other pages."""
    size = form.cleaned_data["size"]
    return size.system if size and size.converted_from else size_system_of(request)


def _answer(form: StartForm, units: str, rules: ReferralRules, sizes: str) -> dict[str, Any]:
    answers, person = form.cleaned_data, form.person()
    found = start_for(person, size_eu=answers["size"].eu if answers["size"] else None)
    return {
        "need": need_lines(found.need),
        "refer": referral_at_fitting(Reported(history=person.history), rules).advice,
        "drawing": target_drawing(found.need, band_list()),
        "left_out_words": not_looked_at_words(found.need),
        "shoes": start_lines(found, units, sizes),
        "nothing_in_range": found.nothing_in_range,
        "worn": worn_words(worn_named(answers["worn"]), answers["went"], found.need),
        "distance": distance_words(answers["distance_km_week"], units),
        "asked_size": answers["size"],
        "code": start_code(start_code_for(answers_of(answers))),
        "hurts_now": bool(answers["hurt"]) and answers["hurts"] == NOW,
        "for_it": [line for line in published_trials.EVIDENCE if line.is_conclusive],
        "against_it": [line for line in published_trials.EVIDENCE if not line.is_conclusive],
    }
