"""Two tests of a shoe beside each other: left against right, specimen against specimen."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from core.gate.access import gate
from core.gate.context import units_of
from core.web.forms import status_of
from labtests.forms.comparing import CompareForm
from labtests.presentation import comparing as comparing_presentation
from labtests.presentation import drawings
from labtests.selectors import comparing
from labtests.selectors.shoes import shoe_get
from labtests.views import common as common


@gate("labtests.test:view")
@require_safe
def specimen_compare(request: HttpRequest, slug: str) -> HttpResponse:
    shoe = shoe_get(slug)
    found = comparing.comparable_tests(shoe)
    chosen = comparing.first_choice(found)
    initial = {"first": chosen[0].test.pk, "second": chosen[1].test.pk} if chosen else {}
    is_asked = "first" in request.GET or "second" in request.GET
    form = CompareForm(request.GET if is_asked else None, initial=initial, tests=[one.test for one in found])
    if is_asked and chosen:
        by_pk = {str(one.test.pk): one for one in found}
        chosen = (by_pk[form.cleaned_data["first"]], by_pk[form.cleaned_data["second"]]) if form.is_valid() else None
    context: dict[str, Any] = {"shoe": shoe, "form": form, "found": found}
    if chosen:
        context |= _compared(comparing.compare(*chosen), units_of(request))
    return render(request, "labtests/specimen_compare.html", context, status=status_of(form))


def _compared(comparison: comparing.Comparison, system: str) -> dict[str, Any]:
    names = comparing_presentation.names_of(comparison)
    first, second = comparison.first.test, comparison.second.test
    return {
        "comparison": comparison,
        "names": names,
        "sentence": comparing_presentation.sentence_of(comparison, names),
        "rigs": comparing_presentation.rigs_sentence(comparison),
        "lines": comparing_presentation.lines_of(comparison, system),
        "shared": comparing_presentation.shared_words(comparison),
        "drawings": drawings.overlays_of((names[0], first.curves.all()), (names[1], second.curves.all()), system),
    }
