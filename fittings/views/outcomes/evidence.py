"""The practice's own outcomes: the public page, and where head office decides on it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from catalogue.domain import published_trials as published
from core.gate.access import PUBLIC, gate
from core.web.forms import ReasonForm, problems_in
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.models import EvidenceRelease
from fittings.presentation.outcomes.evidence import evidence_figures
from fittings.selectors.outcomes.evidence import evidence_published, evidence_releases
from fittings.services.outcomes.evidence import evidence_propose, evidence_publish, evidence_withdraw
from fittings.views.common import domain_errors_as_pages

PUBLISH = "fittings.evidence:publish"
SHOWN = 20


@gate(PUBLIC)
@require_safe
def evidence(request: HttpRequest) -> HttpResponse:
    """What became of the people fitted, as far as head office has published it."""
    context = {
        "release": evidence_published(),
        "canonical": request.path,
        "for_it": sum(line.is_conclusive for line in published.EVIDENCE),
        "against_it": sum(not line.is_conclusive for line in published.EVIDENCE),
    }
    return render(request, "fittings/evidence.html", context)


@gate(PUBLISH)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def evidence_office(request: HttpRequest) -> HttpResponse:
    """Propose the present outcomes for the public page; see what was published and by whom."""
    form = ReasonForm(request.POST if request.method == "POST" else None, prefix="propose")
    if form.is_bound and form.is_valid():
        with problems_in(form):
            reason = form.cleaned_data["reason"]
            evidence_propose(actor=actor_of(request), reason=reason, worded=evidence_figures)
            messages.success(request, "Proposed. Somebody else at head office must publish it.")
            return redirect("outcomes:evidence")
    return _page(request, form)


def _page(request: HttpRequest, form: ReasonForm, *, ending: ReasonForm | None = None) -> HttpResponse:
    releases = list(evidence_releases()[:SHOWN])
    context: dict[str, Any] = {
        "form": form,
        "ending": ending or ReasonForm(prefix="end"),
        "releases": releases,
        "waiting": next((release for release in releases if release.state == "proposed"), None),
        "shown": next((release for release in releases if release.state == "published"), None),
    }
    failed = form.errors or (ending and ending.errors)
    return render(request, "fittings/evidence_office.html", context, status=400 if failed else 200)


@gate(PUBLISH)
@require_POST
@domain_errors_as_pages
def evidence_confirm(request: HttpRequest, pk: int) -> HttpResponse:
    evidence_publish(actor=actor_of(request), release=get_object_or_404(EvidenceRelease, pk=pk))
    messages.success(request, "Published. Everybody can read it now.")
    return redirect("outcomes:evidence")


@gate(PUBLISH)
@require_POST
@domain_errors_as_pages
def evidence_end(request: HttpRequest, pk: int) -> HttpResponse:
    """Withdraw what is published, or a proposal, for a reason."""
    release = get_object_or_404(EvidenceRelease, pk=pk)
    form = ReasonForm(request.POST, prefix="end")
    if form.is_valid():
        with problems_in(form):
            evidence_withdraw(actor=actor_of(request), release=release, reason=form.cleaned_data["reason"])
            messages.success(request, "Withdrawn.")
            return redirect("outcomes:evidence")
    return _page(request, ReasonForm(prefix="propose"), ending=form)
