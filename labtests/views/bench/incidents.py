"""Pages of incidents: propose one, see what it touches, carry it out or dismiss it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.permissions import allowed, gate
from core.web.forms import add_problem
from core.web.requests import actor_of
from labtests import services
from labtests.forms.incidents import DecisionForm, IncidentForm
from labtests.models import Incident, IncidentState
from labtests.presentation.bench import incidents as words
from labtests.selectors.bench.incidents import (
    Period,
    Touched,
    incident_get,
    incident_list,
    period_of,
    shoe_names_in,
    shoe_names_of,
    touched_body,
    touched_by,
)
from labtests.views.common import page_of

# What the services call the ends of a period, and the form.
FIELDS = {"from": "begins_at", "to": "ends_at"}


@gate("labtests.incident:view")
@require_safe
def incident_list_page(request: HttpRequest) -> HttpResponse:
    page = page_of(incident_list(), request)
    lines = [(incident, words.state_css(incident)) for incident in page.object_list]
    context = {"page": page, "lines": lines, "may_propose": allowed(request.user, "labtests.incident:propose")}
    return render(request, "labtests/incident_list.html", context)


@gate("labtests.incident:propose")
@require_http_methods(["GET", "HEAD", "POST"])
def incident_create(request: HttpRequest) -> HttpResponse:
    """Fill in the form, look at what it touches, and propose it; nothing changes before a reviewer agrees."""
    context: dict[str, Any] = {"form": IncidentForm(initial=_asked(request))}
    if request.method == "POST":
        form = context["form"] = IncidentForm(request.POST)
        if form.is_valid():
            try:
                if "propose" in request.POST:
                    return _propose(request, form)
                context["touched"] = _touched_page(_preview(request, form))
            except DomainError as problem:
                add_problem(form, _named_as_here(problem))
    status = 400 if context["form"].errors else 200
    return render(request, "labtests/incident_form.html", context, status=status)


def _asked(request: HttpRequest) -> dict[str, str]:
    """What a link from elsewhere fills in."""
    return {name: request.GET[name] for name in ("rig", "quantity", "begins_at", "ends_at") if name in request.GET}


def _period(form: IncidentForm) -> Period:
    given = {name: value for name, value in form.cleaned_data.items() if name != "reason"}
    return Period(**given)


def _preview(request: HttpRequest, form: IncidentForm) -> Touched:
    return services.incident_preview(actor=actor_of(request), period=_period(form))


def _touched_page(touched: Touched) -> words.TouchedPage:
    return words.touched_page(touched_body(touched), shoe_names_of(touched))


def _reach_of(incident: Incident) -> words.TouchedPage | None:
    """What an incident would touch now or, once it is decided, what is on its record."""
    if incident.state == IncidentState.PROPOSED:
        return _touched_page(touched_by(period_of(incident)))
    return words.touched_page(incident.touched, shoe_names_in(incident.touched)) if incident.touched else None


def _propose(request: HttpRequest, form: IncidentForm) -> HttpResponse:
    incident = services.incident_propose(
        actor=actor_of(request), period=_period(form), reason=form.cleaned_data["reason"]
    )
    messages.success(request, f"Incident {incident.pk} is proposed. Nothing changes until a reviewer carries it out.")
    return redirect("labtests:incident-detail", pk=incident.pk)


def _named_as_here(problem: DomainError) -> DomainError:
    fields = {FIELDS.get(name, name): sentences for name, sentences in problem.fields.items()}
    return DomainError(problem.message, code=problem.code, status=problem.status, fields=fields)


@gate("labtests.incident:view")
@require_safe
def incident_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _detail(request, incident_get(pk))


def _detail(request: HttpRequest, incident: Incident, form: DecisionForm | None = None) -> HttpResponse:
    is_open = incident.state == IncidentState.PROPOSED
    may_decide = is_open and allowed(request.user, "labtests.incident:carry_out")
    context = {
        "incident": incident,
        "css": words.state_css(incident),
        "is_open": is_open,
        "touched": _reach_of(incident),
        "form": (form or DecisionForm()) if may_decide else None,
    }
    return render(request, "labtests/incident_detail.html", context, status=400 if form and form.errors else 200)


@gate("labtests.incident:carry_out")
@require_POST
def incident_decide(request: HttpRequest, pk: int) -> HttpResponse:
    incident = incident_get(pk)
    form = DecisionForm(request.POST)
    if not form.is_valid():
        return _detail(request, incident, form)
    try:
        if form.cleaned_data["decision"] == "carry_out":
            services.incident_carry_out(actor=actor_of(request), incident=incident)
        else:
            reason = form.cleaned_data["reason"]
            services.incident_dismiss(actor=actor_of(request), incident=incident, reason=reason)
    except DomainError as problem:
        add_problem(form, problem)
        messages.error(request, problem.message)
        return _detail(request, incident_get(pk), form)
    messages.success(request, f"Your decision on incident {pk} is on record.")
    return redirect("labtests:incident-detail", pk=pk)
