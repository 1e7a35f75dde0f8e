"""Pages of a test: the test itself, its curves, the review, the amendment."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.audit import entries_of
from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.gate.context import units_of
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.bench_tests import AmendForm, ReviewForm
from labtests.models import BenchTest, State
from labtests.presentation import bench_tests as presentation
from labtests.presentation import comparing as comparing_words
from labtests.presentation import drawings
from labtests.presentation.bench.climate import climate_drawings, climate_words
from labtests.presentation.scores.scoring_models import change_lines
from labtests.selectors.bench.calibrations import certificates_of
from labtests.selectors.bench.climate import climate_of_test
from labtests.selectors.bench.conditioning_doubts import conditioning_doubts
from labtests.selectors.bench.earlier_tests import earlier_test_of
from labtests.selectors.bench_tests import Scales, bench_test_get, history
from labtests.selectors.comparing import compare, scored_by_current
from labtests.selectors.scores.rescoring import ShoeChange
from labtests.selectors.scores.scoring_models import result_by
from labtests.selectors.scores.taking_back import changes_without, reach_of

DECISIONS = {
    "approve": services.bench_test_approve,
    "release": services.bench_test_keep_on_record,
    "hold": services.bench_test_hold,
    "clear_doubt": services.bench_test_clear_doubt,
    "void": services.bench_test_void,
}


@gate("labtests.test:view")
@require_safe
def test_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _detail(request, bench_test_get(pk))


def _detail(request: HttpRequest, test: BenchTest, form: ReviewForm | None = None) -> HttpResponse:
    system = units_of(request)
    result = result_by(test, request.GET.get("model", ""))
    placement = Scales().place(result) if result else None
    context = {
        "test": test,
        "badge": presentation.badge(test),
        "result": result,
        "by_models": [found for found in test.results.all() if len(test.results.all()) > 1],
        "scores": presentation.score_lines(result, certificates_of(result) if result else None),
        "placement": placement,
        "probabilities": presentation.probabilities(placement),
        "conditions": presentation.condition_lines(test, system),
        **_climate(test, system),
        "facts": presentation.specimen_facts(test, system),
        "readings": presentation.reading_table(test, system),
        "drawings": drawings.drawings_of(test.curves.all(), system, test.protocol.to_domain().target),
        "earlier": presentation.earlier_lines(earlier_test_of(test), test, system),
        "history": history(entries_of(test)),
        "successor": getattr(test, "successor", None),
        **_carried(test),
        **_replacing(test, system),
        "doubt": conditioning_doubts(BenchTest.objects.filter(pk=test.pk, state=State.APPROVED)).get(test.pk),
        "review": _review_of(request, test, form),
        "may_amend": test.state != State.VOID and allowed(request.user, "labtests.test:amend"),
    }
    return render(request, "labtests/test_detail.html", context, status=status_of(form))


def _carried(test: BenchTest) -> dict[str, Any]:
    """The published scores that rest on a test, and whom outside the lab it concerns that they change."""
    reach = reach_of(test) if test.state == State.APPROVED else None
    return {"carried": change_lines(_cards_without(test)), "reach": reach}


def _cards_without(test: BenchTest) -> tuple[ShoeChange, ...]:
    """What becomes of the published card that an approved test is part of, should it be voided."""
    return changes_without([test.pk]) if test.state == State.APPROVED else ()


def _replacing(test: BenchTest, system: str) -> dict[str, Any]:
    """For a test that is to replace an approved one: what differs, and what becomes of the card."""
    if test.amends is None or test.amends.state != State.APPROVED:
        return {}
    pair = (scored_by_current(test.amends.pk), scored_by_current(test.pk))
    differences = None
    if pair[0] is not None and pair[1] is not None:
        differences = comparing_words.lines_of(compare(pair[0], pair[1]), system)
    changes = changes_without([test.amends.pk], successors=[test.pk])
    then = {"then": change_lines(changes), "then_reach": reach_of(test.amends)}
    return {"replaces": test.amends, "differences": differences, **then}


def _climate(test: BenchTest, system: str) -> dict[str, Any]:
    """The climate of the chamber while the specimen was conditioned: in words, and drawn where a log is there."""
    shown = climate_of_test(test)
    limit = test.protocol.to_domain().temperature_c
    return {
        "climate_words": climate_words(shown.found if shown else None),
        "climate": climate_drawings(shown, limit, system) if shown else (),
    }


def _review_of(request: HttpRequest, test: BenchTest, form: ReviewForm | None) -> dict[str, Any] | None:
    """The review form for those who may decide; for a reviewer who may not, why."""
    if test.state == State.VOID or not allowed(request.user, "labtests.test:review"):
        return None
    own = actor_of(request).pk in (test.operator_id, test.upload.by_id)
    return {"form": form or ReviewForm(test=test), "is_own": own}


@gate("labtests.test:review")
@require_POST
def test_review(request: HttpRequest, pk: int) -> HttpResponse:
    test = bench_test_get(pk)
    form = ReviewForm(request.POST, test=test)
    if not form.is_valid():
        return _detail(request, test, form)
    decide = DECISIONS[form.cleaned_data["decision"]]
    try:
        decide(actor=actor_of(request), test=test, reason=form.cleaned_data["reason"])
    except DomainError as problem:
        add_problem(form, problem)
        return _detail(request, bench_test_get(pk), form)
    messages.success(request, f"Your decision on test {test.pk} is on record.")
    return redirect("labtests:test-detail", pk=pk)


@gate("labtests.test:view")
@require_safe
def test_curves(request: HttpRequest, pk: int) -> HttpResponse:
    """The curves for a closer look: drawn by a script, or read from tables without one."""
    test = bench_test_get(pk)
    curves = list(test.curves.all())
    system = units_of(request)
    context = {
        "test": test,
        "figure": drawings.figure_of(curves, system, test.protocol.to_domain().target),
        "tables": drawings.tables_of(curves, system),
    }
    return render(request, "labtests/test_curves.html", context)


@gate("labtests.test:amend")
@require_http_methods(["GET", "HEAD", "POST"])
def test_amend(request: HttpRequest, pk: int) -> HttpResponse:
    test = bench_test_get(pk)
    is_sent = request.method == "POST"
    form = AmendForm(request.POST, request.FILES) if is_sent else AmendForm()
    if is_sent and form.is_valid():
        file, reason = form.cleaned_data["file"], form.cleaned_data["reason"]
        try:
            successor = services.bench_test_amend(
                actor=actor_of(request), test=test, name=file.name, data=file.read(), reason=reason
            )
        except DomainError as problem:
            add_problem(form, problem)
        else:
            messages.success(request, _amended(test, successor))
            return redirect("labtests:test-detail", pk=successor.pk)
    status = status_of(form)
    context = {"form": form, "test": test, **_carried(test)}
    return render(request, "labtests/test_amend.html", context, status=status)


def _amended(test: BenchTest, successor: BenchTest) -> str:
    if test.state == State.APPROVED:
        return f"Test {successor.pk} waits for review. Test {test.pk} counts until a reviewer accepts it."
    return f"Test {test.pk} is replaced by test {successor.pk}, which waits for review."
