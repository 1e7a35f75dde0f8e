"""Pages of scoring models: the list, one, drafts with their fit and dry run, adoption."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.domain.errors import DomainError
from core.domain.figures import grouped
from core.gate.access import allowed, gate
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.domain.files.reference_table import Target, TargetTable, read_targets, targets_text
from labtests.forms.bench_tests import ReasonForm
from labtests.forms.scoring_models import AdoptForm, DraftForm, NewDraftForm, ReferencesForm
from labtests.models import DraftState, ModelDraft, ScoringModel
from labtests.presentation.scores import model_drawings
from labtests.presentation.scores import scoring_models as words
from labtests.selectors.bench.references import ReferenceReading, reference_readings, reference_shoes
from labtests.selectors.scores import scoring_models as selectors


@gate("labtests.model:view")
@require_safe
def model_list(request: HttpRequest) -> HttpResponse:
    lines = [words.model_line(view) for view in selectors.model_list()]
    context = {"lines": lines, "may_draft": allowed(request.user, "labtests.model:draft")}
    return render(request, "labtests/model_list.html", context)


@gate("labtests.model:draft")
@require_http_methods(["GET", "HEAD", "POST"])
def model_create(request: HttpRequest) -> HttpResponse:
    sources = _sources()
    choices = [(key, f"{view.version}, {words.STATES[view.state].word}") for key, (view, _) in sources.items()]
    is_sent = request.method == "POST"
    form = (
        NewDraftForm(request.POST, sources=choices)
        if is_sent
        else NewDraftForm(sources=choices, initial={"source": request.GET.get("source", "")})
    )
    if is_sent and form.is_valid():
        given = form.cleaned_data
        _, source = sources[given["source"]]
        try:
            draft = services.model_draft_create(
                actor=actor_of(request), version=given["version"], reason=given["reason"], source=source
            )
        except DomainError as problem:
            add_problem(form, problem)
        else:
            messages.success(request, f"The draft {draft.version} is created. Change its numbers, or fit them.")
            return redirect("labtests:model-edit", version=draft.version)
    return render(request, "labtests/model_new.html", {"form": form}, status=status_of(form))


def _sources() -> dict[str, tuple[selectors.ModelView, ScoringModel | ModelDraft]]:
    """What a draft may begin with, the model in use first."""
    return {view.version: (view, view.numbers) for view in selectors.model_list()}


@gate("labtests.model:view")
@require_safe
def model_detail(request: HttpRequest, version: str) -> HttpResponse:
    return _detail(request, version)


def _detail(request: HttpRequest, version: str, discard: ReasonForm | None = None) -> HttpResponse:
    view = selectors.model_get(version)
    fit = selectors.fit_stored(view.draft)
    is_open = view.state == selectors.DRAFT
    may_draft = allowed(request.user, "labtests.model:draft")
    context = {
        "view": view,
        "line": words.model_line(view),
        "anchors": words.anchor_rows(view),
        "weights": words.weights(view),
        "guard": words.guard(view),
        "bands": words.band_lines(selectors.band_texts(view)),
        "fit": words.fit_parts(fit) if fit else [],
        "history": selectors.model_history(view),
        "may_edit": is_open and _is_author(request, view.draft),
        "may_draft": may_draft,
        "discard": (discard or ReasonForm()) if is_open and may_draft else None,
    }
    return render(request, "labtests/model_detail.html", context, status=status_of(discard))


def _is_author(request: HttpRequest, draft: ModelDraft | None) -> bool:
    return draft is not None and draft.author_id == actor_of(request).pk


@gate("labtests.model:draft")
@require_http_methods(["GET", "HEAD", "POST"])
def model_edit(request: HttpRequest, version: str) -> HttpResponse:
    draft = selectors.draft_get(version)
    is_sent = request.method == "POST"
    form = DraftForm(request.POST) if is_sent else DraftForm.of(draft)
    if is_sent and form.is_valid():
        try:
            services.model_draft_edit(
                actor=actor_of(request),
                draft=draft,
                revision=form.cleaned_data["revision"],
                numbers=form.numbers(),
                bands=form.bands(),
                reason=form.cleaned_data["reason"],
            )
        except DomainError as problem:
            add_problem(form, problem)
        else:
            messages.success(request, f"The draft {draft.version} is changed. Check its dry run.")
            return redirect("labtests:model-detail", version=version)
    context = {"form": form, "draft": draft, "is_author": _is_author(request, draft)}
    return render(request, "labtests/model_edit.html", context, status=status_of(form))


@gate("labtests.model:draft")
@require_http_methods(["GET", "HEAD", "POST"])
def model_fit(request: HttpRequest, version: str) -> HttpResponse:
    draft = selectors.draft_get(version)
    readings = reference_readings()
    if request.method != "POST":
        form = ReferencesForm(readings=readings, initial={"revision": draft.revision})
        return _fit_page(request, draft, form)
    form = ReferencesForm(request.POST, request.FILES, readings=readings)
    targets = _targets(form, readings) if form.is_valid() else None
    if targets is None:
        return _fit_page(request, draft, form)
    try:
        if "use" in request.POST:
            return _use_fit(request, draft, form, targets)
        shoes, _ = reference_shoes(targets, readings)
        fit = services.draft_fit(draft, shoes)
    except DomainError as problem:
        add_problem(form, problem)
        return _fit_page(request, draft, form)
    found = {"fit": words.fit_parts(fit), "held": fit.held, "table": targets_text(targets)}
    return _fit_page(request, draft, form, found)


def _targets(form: ReferencesForm, readings: list[ReferenceReading]) -> tuple[Target, ...] | None:
    """The references that were given; None where they can't be used, and the form says why."""
    given = form.cleaned_data
    table = read_targets(given["table"]) if given["table"].strip() else TargetTable((), ())
    targets = (*form.picked(given), *table.targets)
    _, unknown = reference_shoes(targets, readings)
    doubled = [target.shoe for place, target in enumerate(targets) if target.shoe in {t.shoe for t in targets[:place]}]
    problems = [*table.problems, *unknown, *(f"{shoe} is given twice" for shoe in doubled)]
    for problem in problems:
        form.add_error("table", problem)
    return None if problems else targets


def _use_fit(
    request: HttpRequest, draft: ModelDraft, form: ReferencesForm, targets: tuple[Target, ...]
) -> HttpResponse:
    shoes, _ = reference_shoes(targets, reference_readings())
    services.model_draft_use_fit(
        actor=actor_of(request), draft=draft, revision=form.cleaned_data["revision"], shoes=shoes
    )
    messages.success(request, f"The fitted numbers are in the draft {draft.version}. Check its dry run.")
    return redirect("labtests:model-detail", version=draft.version)


def _fit_page(
    request: HttpRequest, draft: ModelDraft, form: ReferencesForm, found: dict[str, Any] | None = None
) -> HttpResponse:
    context = {"form": form, "draft": draft, "is_author": _is_author(request, draft), **(found or {})}
    return render(request, "labtests/model_fit.html", context, status=status_of(form))


@gate("labtests.model:view")
@require_safe
def model_dry_run(request: HttpRequest, version: str) -> HttpResponse:
    return _dry_run(request, selectors.draft_get(version))


def _dry_run(request: HttpRequest, draft: ModelDraft, form: AdoptForm | None = None, status: int = 200) -> HttpResponse:
    if draft.state != DraftState.OPEN:
        return redirect("labtests:model-detail", version=draft.version)
    run = services.draft_dry_run(draft)
    may_adopt = allowed(request.user, "labtests.model:adopt")
    context = {
        "draft": draft,
        "facts": words.run_summary(run),
        "chart": model_drawings.slope_chart([*run.changing, *_still(run)], run.old_bands, run.new_bands),
        "changing": words.change_lines(run.changing, numbered=True),
        "still": words.change_lines(_still(run)),
        "refused": words.change_lines(run.refused),
        "matrix": words.change_matrix(run.rescored.changes, run.old_bands, run.new_bands),
        "is_author": _is_author(request, draft),
        "form": (form or AdoptForm(initial={"revision": draft.revision})) if may_adopt else None,
    }
    return render(request, "labtests/model_dry_run.html", context, status=status)


def _still(run: Any) -> list[Any]:
    return [shoe for shoe in run.shoes if shoe.then is not None and not shoe.changes_band]


@gate("labtests.model:adopt")
@require_POST
def model_adopt(request: HttpRequest, version: str) -> HttpResponse:
    draft = selectors.draft_get(version)
    form = AdoptForm(request.POST)
    if not form.is_valid():
        return _dry_run(request, draft, form, status=400)
    try:
        adoption = services.model_adopt(actor=actor_of(request), draft=draft, **form.cleaned_data)
    except DomainError as problem:
        draft = selectors.draft_get(version)
        if draft.state != DraftState.OPEN:
            messages.error(request, problem.message)
            return redirect("labtests:model-detail", version=version)
        add_problem(form, problem)
        return _dry_run(request, draft, form, status=problem.status)
    rescored, published = grouped(adoption.tests), grouped(adoption.cards)
    messages.success(request, f"{version} is in use: {rescored} tests rescored, {published} shoes published again.")
    return redirect("labtests:model-detail", version=version)


@gate("labtests.model:draft")
@require_POST
def model_discard(request: HttpRequest, version: str) -> HttpResponse:
    draft = selectors.draft_get(version)
    form = ReasonForm(request.POST)
    if not form.is_valid():
        return _detail(request, version, form)
    try:
        services.model_draft_discard(actor=actor_of(request), draft=draft, reason=form.cleaned_data["reason"])
    except DomainError as problem:
        messages.error(request, problem.message)
    else:
        messages.success(request, f"The draft {version} is discarded. It stays readable here.")
    return redirect("labtests:model-detail", version=version)
