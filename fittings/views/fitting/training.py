"""Drawn cases for fitters who learn to grade, and how they answered them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.contrib import messages
from django.core import signing
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from core.domain.errors import DomainError
from core.gate.access import gate
from core.models import User
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.domain.fitting.need import GRADE_WORDS
from fittings.presentation.fitting.cases import answered_cases, case_drawing, score_words
from fittings.selectors.fitting.cases import CaseSet, new_set, result_get, results_for, set_of
from fittings.services.fitting.cases import TRAIN, case_result_record
from fittings.views.common import domain_errors_as_pages

SALT = "fittings.cases"
PAGE = 30


class CasesForm(forms.Form):
    """A grade for each case of a set."""

    def __init__(self, data: Mapping[str, Any] | None, drawn: CaseSet) -> None:
        super().__init__(data)
        for index in range(len(drawn.cases)):
            self.fields[f"case_{index}"] = forms.TypedChoiceField(
                label=f"Grade of case {index + 1}",
                choices=[(str(grade), f"{grade} {word}") for grade, word in enumerate(GRADE_WORDS)],
                coerce=int,
                widget=forms.RadioSelect,
                error_messages={"required": "Pick a grade."},
            )

    def answers(self) -> list[int]:
        return [self.cleaned_data[name] for name in self.fields]


@gate(TRAIN)
@never_cache
@require_safe
def training(request: HttpRequest) -> HttpResponse:
    """One's own results, and for managers those of their staff."""
    page = Paginator(results_for(actor_of(request)), PAGE).get_page(request.GET.get("page"))
    return render(request, "fittings/training.html", {"page": page})


@gate(TRAIN)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def cases(request: HttpRequest) -> HttpResponse:
    actor = actor_of(request)
    if request.method != "POST":
        drawn = new_set()
        return _set_page(request, actor, drawn, CasesForm(None, drawn))
    drawn = _set_sent(actor, request.POST.get("set", ""))
    form = CasesForm(request.POST, drawn)
    if not form.is_valid():
        return _set_page(request, actor, drawn, form, status=400)
    result = case_result_record(actor=actor, seed=drawn.seed, cutoffs_pk=drawn.cutoffs_pk, answers=form.answers())
    messages.success(request, "Your answers are recorded.")
    return redirect("fittings:case-result", pk=result.pk)


def _set_sent(actor: User, text: str) -> CaseSet:
    """The set that a page shows; signed for one person, so that nobody picks a set with answers they know."""
    try:
        seed, cutoffs_pk, person = signing.loads(text, salt=SALT)
    except (signing.BadSignature, ValueError, TypeError):
        person = None
    if person != actor.pk:
        raise DomainError("This set of cases can’t be read. Start a new one.", code="bad_set")
    return set_of(seed, cutoffs_pk)


def _set_page(request: HttpRequest, actor: User, drawn: CaseSet, form: CasesForm, *, status: int = 200) -> HttpResponse:
    context = {
        "form": form,
        "set": signing.dumps([drawn.seed, drawn.cutoffs_pk, actor.pk], salt=SALT),
        "cases": [(case_drawing(case), form[name]) for case, name in zip(drawn.cases, form.fields, strict=True)],
        "cutoffs": drawn.cutoffs,
        "source": drawn.source,
    }
    return render(request, "fittings/training_cases.html", context, status=status)


@gate(TRAIN)
@never_cache
@require_safe
@domain_errors_as_pages
def case_result(request: HttpRequest, pk: int) -> HttpResponse:
    result = result_get(actor_of(request), pk)
    rows, score = answered_cases(set_of(result.seed, result.cutoffs_id), result)
    context = {"result": result, "rows": rows, "words": score_words(score)}
    return render(request, "fittings/training_result.html", context)
