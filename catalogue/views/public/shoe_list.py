"""The list of shoes."""

from __future__ import annotations

import re
from dataclasses import replace

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils.safestring import SafeString
from django.views.decorators.http import require_safe

from catalogue import forms, presentation
from catalogue.domain.filters import RANGES
from catalogue.presentation.problems import by_part, field_problems
from catalogue.selectors import Revision, columns_at
from catalogue.selectors.public.scales import bands_at
from catalogue.selectors.public.selection import widths_offered
from catalogue.selectors.public.stores import store_names_at
from catalogue.views.caching import page_by_revision
from catalogue.views.common import is_part
from catalogue.views.public.list_results import Reader, Results, form_again, results_of
from catalogue.views.public.visitor_frame import TEMPLATE, list_page
from catalogue.views.size_system import size_system_of
from core.gate.access import PUBLIC, gate
from core.gate.context import units_of
from core.web.jinja import fragment

_SLUG = re.compile(r"[-a-zA-Z0-9_]{1,50}")


@gate(PUBLIC)
@require_safe
@page_by_revision
def shoe_list(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    stores = store_names_at(revision)
    bands = {band.order: band.name for band in bands_at(revision)}
    choices = forms.Choices(bands, stores, widths_offered(columns_at(revision)))
    reader = Reader(units_of(request), size_system_of(request))
    query, notices = _without_closed_store(request.GET, choices)
    try:
        wanted = forms.shoe_filter(query, choices)
    except forms.BadQuery as problem:
        readable = forms.shoe_filter(forms.without_bad_keys(query, problem), choices)
        return _refused(request, problem, results_of(readable, reader, revision))
    results = _with_notices(results_of(wanted, reader, revision), notices)
    address = presentation.list_address(results.wanted)
    if is_part(request):
        response = render(request, "catalogue/_results_part.html", {"results": results, "parts": PARTS_WITH_NUMBERS})
        response.headers["HX-Push-Url"] = address
        return response
    return list_page(request, results, address)


PARTS_WITH_NUMBERS = (*RANGES, "mass")
"""The parts of the filter that have numbers, and so a place for what is wrong with them."""


def _without_closed_store(query: QueryDict, choices: forms.Choices) -> tuple[QueryDict, tuple[str, ...]]:
    """Leave a store out that is not there any more, as a link from before it closed names it, and say so."""
    store = query.get("store", "")
    if not _SLUG.fullmatch(store) or store in choices.stores or len(query.getlist("store")) > 1:
        return query, ()
    rest = query.copy()
    del rest["store"]
    return rest, (f"We no longer have a store “{store}”. These are the shoes of all stores.",)


def _with_notices(results: Results, notices: tuple[str, ...]) -> Results:
    """Put notices in front of the results, those of the page among them."""
    said = (*notices, *results.notices)
    if not said:
        return results
    above = fragment("catalogue/notices.html", notices=said)
    return replace(results, markup=SafeString(above + results.markup), place=f"{' '.join(said)} {results.place}")


def _refused(request: HttpRequest, problem: forms.BadQuery, again: Results) -> HttpResponse:
    """Answer with the form as it was sent, each problem at its field and all of them in the place of the shoes."""
    problems = field_problems(problem)
    errors = by_part(problems)
    context = {"found": problems, "problems": problem.problems, "errors": errors, "parts": PARTS_WITH_NUMBERS}
    if is_part(request):
        return render(request, "catalogue/_problems.html", context, status=400)
    markup = fragment("catalogue/problems.html", found=problems)
    form = form_again(again, request.GET, errors)
    shown = {"results": replace(again, filters=form, markup=markup), "canonical": presentation.list_url()}
    return render(request, TEMPLATE, {**context, **shown}, status=400)
