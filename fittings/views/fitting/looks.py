"""Looks in motion that are added to a finished fitting."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from core.domain.errors import DomainError
from core.gate.access import gate
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.forms.fitting.looks import LookForm, check_each_once, picture_kinds
from fittings.models import Fitting
from fittings.presentation.fitting.looks import fitting_changes
from fittings.selectors.fitting.looks import looks_at
from fittings.selectors.people.lists import fitting_get
from fittings.services.fitting.looks import looks_record
from fittings.views.common import camera_here, domain_errors_as_pages

ROWS = 3


@gate("fittings.fitting:write")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@camera_here
@domain_errors_as_pages
def looks_add(request: HttpRequest, pk: int) -> HttpResponse:
    fitting = fitting_get(request.user, pk)
    if not fitting.kept:
        return render(request, "fittings/fitting_empty.html", {"fitting": fitting})
    shoes = shoes_tried(fitting)
    given = request.POST if request.method == "POST" else None
    choices = list(shoes.items())
    rows = [LookForm(given, prefix=f"look-{row}", shoes=choices) for row in range(ROWS)]
    if given is not None and _recorded(request, fitting, rows, shoes):
        messages.success(request, "The looks are recorded. The target has not changed.")
        return redirect("fittings:fitting-detail", pk=pk)
    context = {
        "fitting": fitting,
        "rows": rows,
        "look_changes": fitting_changes(looks_at(fitting)),
        "pictures": picture_kinds(),
    }
    return render(request, "fittings/looks_add.html", context, status=200 if given is None else 400)


def shoes_tried(fitting: Fitting) -> dict[str, str]:
    """The shoes tried on at the fitting: slug and name."""
    tried = fitting.try_ons.select_related("shoe__brand")
    return {item.shoe.slug: f"{item.shoe.brand.name} {item.shoe.title}" for item in tried}


def _recorded(request: HttpRequest, fitting: Fitting, rows: Sequence[LookForm], shoes: Mapping[str, str]) -> bool:
    """Record what the rows say; False where something is wrong, with the problems at their fields."""
    valid = all([form.is_valid() for form in rows])  # noqa: C419  each is asked, so that every problem is shown
    if not valid or not check_each_once(rows):
        return False
    filled = [form for form in rows if form.is_filled()]
    looks = [look for look in (form.look({slug: slug for slug in shoes}) for form in filled) if look is not None]
    try:
        looks_record(actor=actor_of(request), fitting=fitting, looks=looks)
    except DomainError as problem:
        if problem.status != 400:
            raise
        add_look_problems(filled or rows[:1], problem)
        return False
    return True


def add_look_problems(rows: Sequence[LookForm], problem: DomainError) -> None:
    for name, words in problem.fields.items():
        _, *rest = name.split(".")
        form = rows[int(rest[0])] if rest else rows[0]
        field = "_".join(rest[1:]).replace("shoe", "worn")
        form.add_error(field if field in form.fields else None, list(words))
