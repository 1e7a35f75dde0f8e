"""Pages of protocols: the list, one, drafting, the dry run, adopting, discarding."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.bench_tests import ReasonForm
from labtests.forms.protocols import AdoptProtocolForm, EditProtocolForm, NewProtocolForm, initial_of
from labtests.models import DraftState, ProtocolDraft
from labtests.presentation.scores import protocols as presentation
from labtests.selectors.scores import protocols as selectors
from labtests.selectors.scores.methods import protocol_current
from labtests.views import common as common


@gate("labtests.protocol:view")
@require_safe
def protocol_list(request: HttpRequest) -> HttpResponse:
    lines = [(view, presentation.badge(view), presentation.author(view)) for view in selectors.protocol_list()]
    context = {"lines": lines, "may_draft": allowed(request.user, "labtests.protocol:draft")}
    return render(request, "labtests/protocol_list.html", context)


@gate("labtests.protocol:draft")
@require_http_methods(["GET", "HEAD", "POST"])
def protocol_create(request: HttpRequest) -> HttpResponse:
    is_sent = request.method == "POST"
    form = NewProtocolForm(request.POST) if is_sent else NewProtocolForm(initial=initial_of(protocol_current()))
    if is_sent and form.is_valid():
        read = form.cleaned_data
        try:
            draft = services.protocol_draft_create(
                actor=actor_of(request), version=read["version"], given=form.given(), reason=read["reason"]
            )
        except DomainError as problem:
            add_problem(form, problem)
        else:
            messages.success(request, f"The draft {draft.version} has no effect until somebody else adopts it.")
            return redirect("labtests:protocol-detail", version=draft.version)
    return render(request, "labtests/protocol_form.html", {"form": form}, status=status_of(form))


@gate("labtests.protocol:view")
@require_safe
def protocol_detail(request: HttpRequest, version: str) -> HttpResponse:
    return _detail(request, version)


def _detail(request: HttpRequest, version: str, discard: ReasonForm | None = None) -> HttpResponse:
    view = selectors.protocol_get(version)
    is_open = view.draft is not None and view.draft.state == DraftState.OPEN
    may_draft = is_open and allowed(request.user, "labtests.protocol:draft")
    context = {
        "view": view,
        "badge": presentation.badge(view),
        "author": presentation.author(view),
        "facts": presentation.protocol_facts(view.numbers),
        "changes": presentation.changes(view.draft) if view.draft else [],
        "reads_otherwise": presentation.reads_otherwise(view.numbers),
        "is_open": is_open,
        "may_edit": may_draft and view.draft is not None and view.draft.author_id == actor_of(request).pk,
        "discard": (discard or ReasonForm()) if may_draft else None,
    }
    return render(request, "labtests/protocol_detail.html", context, status=status_of(discard))


def _draft(version: str) -> ProtocolDraft:
    draft = selectors.protocol_get(version).draft
    if draft is None:
        raise Http404
    return draft


@gate("labtests.protocol:draft")
@require_http_methods(["GET", "HEAD", "POST"])
def protocol_edit(request: HttpRequest, version: str) -> HttpResponse:
    draft = _draft(version)
    is_sent = request.method == "POST"
    initial = {**initial_of(draft), "reason": draft.reason, "revision": draft.revision}
    form = EditProtocolForm(request.POST) if is_sent else EditProtocolForm(initial=initial)
    if is_sent and form.is_valid():
        read = form.cleaned_data
        try:
            services.protocol_draft_edit(
                actor=actor_of(request),
                draft=draft,
                revision=read["revision"],
                given=form.given(),
                reason=read["reason"],
            )
        except DomainError as problem:
            add_problem(form, problem)
        else:
            messages.success(request, f"The draft {version} is changed.")
            return redirect("labtests:protocol-detail", version=version)
    context = {"form": form, "draft": draft}
    return render(request, "labtests/protocol_form.html", context, status=status_of(form))


@gate("labtests.protocol:view")
@require_safe
def protocol_dry_run(request: HttpRequest, version: str) -> HttpResponse:
    return _dry_run(request, _draft(version))


def _dry_run(request: HttpRequest, draft: ProtocolDraft, form: AdoptProtocolForm | None = None) -> HttpResponse:
    may_adopt = draft.state == DraftState.OPEN and allowed(request.user, "labtests.protocol:adopt")
    context = {
        "draft": draft,
        "run": selectors.protocol_dry_run(draft),
        "changes": presentation.changes(draft),
        "is_own": draft.author_id == actor_of(request).pk,
        "form": (form or AdoptProtocolForm(initial={"revision": draft.revision})) if may_adopt else None,
    }
    status = status_of(form)
    return render(request, "labtests/protocol_dry_run.html", context, status=status)


@gate("labtests.protocol:adopt")
@require_POST
def protocol_adopt(request: HttpRequest, version: str) -> HttpResponse:
    draft = _draft(version)
    form = AdoptProtocolForm(request.POST)
    if not form.is_valid():
        return _dry_run(request, draft, form)
    try:
        services.protocol_adopt(actor=actor_of(request), draft=draft, **form.cleaned_data)
    except DomainError as problem:
        add_problem(form, problem)
        return _dry_run(request, _draft(version), form)
    messages.success(request, f"Protocol {version} is in use. Tests that are on record keep theirs.")
    return redirect("labtests:protocol-detail", version=version)


@gate("labtests.protocol:draft")
@require_POST
def protocol_discard(request: HttpRequest, version: str) -> HttpResponse:
    draft = _draft(version)
    form = ReasonForm(request.POST)
    if not form.is_valid():
        return _detail(request, version, form)
    try:
        services.protocol_draft_discard(actor=actor_of(request), draft=draft, reason=form.cleaned_data["reason"])
    except DomainError as problem:
        messages.warning(request, problem.message)
    else:
        messages.success(request, f"The draft {version} is discarded.")
    return redirect("labtests:protocol-detail", version=version)
