"""Opening the code of "Where to start": what a visitor said, to begin a fitting with. Nothing is stored by it."""

from __future__ import annotations

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from core.gate.access import gate
from core.gate.context import units_of
from core.web.forms import problems_in, status_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.forms.people.requests import StartCodeForm
from fittings.presentation.people.start_code import fields_of, said_lines
from fittings.selectors.people.start import worn_named
from fittings.services.people.start_code import OpenedCode, start_code_read


@gate("fittings.fitting:write")
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def from_start(request: HttpRequest) -> HttpResponse:
    """Ask for a code, or show what is in one. The fragment of the scanned address comes here in a body, by a script."""
    form = StartCodeForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        with problems_in(form):
            return _opened(request, start_code_read(form.cleaned_data["code"]))
    return render(request, "fittings/from_start.html", {"form": form}, status=status_of(form))


def _opened(request: HttpRequest, opened: OpenedCode) -> HttpResponse:
    worn = worn_named(opened.answers.worn)
    context = {
        "said": said_lines(opened, units_of(request), worn),
        "fields": fields_of(opened, worn),
        "key": uuid.uuid4(),
    }
    return render(request, "fittings/from_start.html", context)
