"""How we measure."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from catalogue import drawings, presentation, selectors
from catalogue.domain import published_trials
from catalogue.selectors import Revision, Score
from catalogue.selectors.public import method
from catalogue.selectors.public.scales import bands_at
from catalogue.views.caching import page_by_revision_and
from core.gate.access import PUBLIC, gate
from core.gate.context import units_of

# A score of no shoe, near a limit of its band, to explain the drawing with.
EXAMPLE = Score(58.8, 1.1, df=14.0)


@gate(PUBLIC)
@require_safe
@page_by_revision_and(method.mark)
def how_we_measure(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    units, lab, in_use = units_of(request), method.lab(), selectors.models_in_use()
    wear = lab.wear(units) if lab else []
    context = {
        "bands": presentation.band_lines(bands_at(revision)),
        "wear": wear,
        "wear_drawing": drawings.wear_markup(wear, units),
        "distribution": drawings.score_distribution_markup(EXAMPLE, bands_at(revision)),
        "in_use": list(zip(presentation.in_use_lines(in_use), in_use, strict=True)),
        "tables": lab.tables(units) if lab else [],
        "procedure": lab.procedure(units) if lab else None,
        "formulas": presentation.formula_sets(
            lab.formulas(units, [line.scoring_model for line in in_use]) if lab else []
        ),
        "evidence": presentation.evidence_lines(),
        "others": published_trials.OTHERS,
        "canonical": request.path,
    }
    return render(request, "catalogue/method.html", context)
