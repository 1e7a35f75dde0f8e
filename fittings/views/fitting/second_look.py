"""Second looks, at the person of a finished or an unfinished fitting, blind to what the first fitter wrote down."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from core.domain.errors import DomainError
from core.gate.access import gate
from core.web.forms import add_problem
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.domain.refusals import not_here
from fittings.forms.fitting.looks import LookForm, check_each_once
from fittings.forms.fitting.second_look import SecondFootForm
from fittings.selectors.fitting.drafts import draft_state
from fittings.selectors.outcomes.agreement import second_look_get
from fittings.services.fitting.draft_second_look import draft_second_look_save
from fittings.services.fitting.second_look import second_observation_record
from fittings.views.common import domain_errors_as_pages
from fittings.views.fitting.looks import add_look_problems, shoes_tried

ROWS = 3


class _Page:
    """The forms of a second look: the observation of both feet, and other looks where there can be any."""

    def __init__(self, request: HttpRequest, shoes: dict[str, str] | None) -> None:
        given = request.POST if request.method == "POST" else None
        self.left, self.right = SecondFootForm(given, prefix="left"), SecondFootForm(given, prefix="right")
        choices = list((shoes or {}).items())
        rows = 0 if shoes is None else ROWS
        self.rows = [LookForm(given, prefix=f"look-{row}", shoes=choices) for row in range(rows)]
        self.shoes = {slug: slug for slug in shoes or {}}

    def is_valid(self) -> bool:
        valid = all([form.is_valid() for form in (self.left, self.right, *self.rows)])  # noqa: C419  each is asked
        return valid and check_each_once(self.rows)

    def filled(self) -> Sequence[LookForm]:
        return [form for form in self.rows if form.is_filled()]

    def add(self, problem: DomainError) -> None:
        if any(name.startswith("looks.") for name in problem.fields):
            add_look_problems(self.filled(), problem)
        else:
            add_problem(self.left, problem)

    def context(self) -> dict[str, Any]:
        feet = [("Left foot", self.left), ("Right foot", self.right)]
        return {"feet": feet, "left": self.left, "right": self.right, "rows": self.rows}


@gate("fittings.second_look:write")
@never_cache
@require_http_methods(["GET", "POST"])
@domain_errors_as_pages
def second_look(request: HttpRequest, pk: int) -> HttpResponse:
    """What a second fitter sees of the person of a finished fitting."""
    fitting = second_look_get(actor_of(request), pk)
    if fitting is None:
        raise Http404(not_here("fitting").message)
    page = _Page(request, shoes_tried(fitting))
    if request.method == "POST" and page.is_valid():
        looks = [look for look in (form.look(page.shoes) for form in page.filled()) if look is not None]
        left, right = page.left.foot(), page.right.foot()
        try:
            second_observation_record(actor=actor_of(request), fitting=fitting, left=left, right=right, looks=looks)
            messages.success(request, "The second look is recorded. The fitting itself has not changed.")
            return redirect("outcomes:agreement")
        except DomainError as problem:
            if problem.status != 400:
                raise
            page.add(problem)
    context = page.context() | {"fitting": fitting, "name": fitting.customer.name if fitting.customer else ""}
    return render(request, "fittings/second_look.html", context, status=200 if request.method == "GET" else 400)


@gate("fittings.second_look:write")
@never_cache
@require_http_methods(["GET", "POST"])
@domain_errors_as_pages
def draft_second_look(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """What a second fitter sees before the fitting is finished, and perhaps before the first one has looked."""
    state = draft_state(request.user, key)
    if state.fitting is not None:
        return redirect("fittings:second-look", pk=state.fitting.pk)
    if state.draft is None:
        raise Http404(not_here("fitting").message)
    page = _Page(request, None)
    if request.method == "POST" and page.is_valid():
        try:
            draft_second_look_save(actor=actor_of(request), key=key, left=page.left.foot(), right=page.right.foot())
            messages.success(request, "The second look is recorded. It is compared once the fitting is finished.")
            return redirect("fittings:home")
        except DomainError as problem:
            if problem.status != 400:
                raise
            page.add(problem)
    context = page.context() | {"draft": state.draft, "name": state.draft.customer.name}
    return render(request, "fittings/second_look.html", context, status=200 if request.method == "GET" else 400)
