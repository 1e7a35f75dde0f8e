"""Pages of incidents: propose one, see what it touches, carry it out, dismiss or withdraw it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.bench_tests import ReasonForm
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
    who_may_carry_out,
)
from labtests.views.common import page_of

DECISIONS = {"carry_out": services.incident_carry_out, "dismiss": services.incident_dismiss}
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
    """Fill in the form, look at what it touches, and propose it; nothing changes before a reviewer carries it out."""
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


def _propose(request: HttpRequest, form: IncidentForm) -> HttpResponse:
    incident = services.incident_propose(
        actor=actor_of(request), period=_period(form), reason=form.cleaned_data["reason"]
    )
    done = f"Incident {incident.pk} is proposed. Nothing changes until {incident.decider} carries it out."
    messages.success(request, done)
    return redirect("labtests:incident-detail", pk=incident.pk)


def _named_as_here(problem: DomainError) -> DomainError:
    fields = {FIELDS.get(name, name): sentences for name, sentences in problem.fields.items()}
    return DomainError(problem.message, code=problem.code, status=problem.status, fields=fields)


@gate("labtests.incident:view")
@require_safe
def incident_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _detail(request, incident_get(pk))


def _detail(request: HttpRequest, incident: Incident, form: ReasonForm | None = None) -> HttpResponse:
    if incident.state == IncidentState.PROPOSED:
        context = _open_context(request, incident, form)
    else:
        touched = incident.touched and words.touched_page(incident.touched, shoe_names_in(incident.touched))
        context = {"touched": touched or None}
    context |= {"incident": incident, "css": words.state_css(incident)}
    return render(request, "labtests/incident_detail.html", context, status=status_of(form))


def _open_context(request: HttpRequest, incident: Incident, form: ReasonForm | None) -> dict[str, Any]:
    """What an open incident would touch now, who may carry it out, and the form of who may do something about it."""
    touched, actor = touched_by(period_of(incident)), actor_of(request)
    deciders = who_may_carry_out(incident, touched.tests)
    is_own, may_decide = incident.proposed_by_id == actor.pk, actor in deciders
    context = {"is_open": True, "touched": _touched_page(touched), "deciders": deciders}
    if is_own or may_decide:
        kind = DecisionForm if may_decide else ReasonForm
        context["form"] = form if type(form) is kind else kind()
        context["form_address"] = "labtests:incident-decide" if may_decide else "labtests:incident-withdraw"
    return context | {"is_own": is_own, "may_decide": may_decide, "may_void": allowed(actor, "labtests.test:review")}


@gate("labtests.incident:carry_out")
@require_POST
def incident_decide(request: HttpRequest, pk: int) -> HttpResponse:
    incident = incident_get(pk)
    form = DecisionForm(request.POST)
    if not form.is_valid():
        return _detail(request, incident, form)
    try:
        decide = DECISIONS[form.cleaned_data["decision"]]
        decide(actor=actor_of(request), incident=incident, reason=form.cleaned_data["reason"])
    except DomainError as problem:
        return _refused(request, pk, form, problem)
    messages.success(request, f"Your decision on incident {pk} is on record.")
    return redirect("labtests:incident-detail", pk=pk)


@gate("labtests.incident:propose")
@require_POST
def incident_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    incident = incident_get(pk)
    form = ReasonForm(request.POST)
    if not form.is_valid():
        return _detail(request, incident, form)
    try:
        reason = form.cleaned_data["reason"]
        services.incident_withdraw(actor=actor_of(request), incident=incident, reason=reason)
    except DomainError as problem:
        return _refused(request, pk, form, problem)
    messages.success(request, f"Your proposal of incident {pk} is withdrawn. It stays on record.")
    return redirect("labtests:incident-detail", pk=pk)


def _refused(request: HttpRequest, pk: int, form: ReasonForm, problem: DomainError) -> HttpResponse:
    add_problem(form, problem)
    messages.error(request, problem.message)
    return _detail(request, incident_get(pk), form)
