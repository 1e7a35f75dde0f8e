"""The bench day: what is conditioning, ready, on the bench or held, the rigs, and putting a specimen in."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.bench_day import SpecimenInForm
from labtests.presentation.bench import bench_day as bench_presentation
from labtests.selectors.bench import conditioning
from labtests.selectors.bench.conditioning_doubts import HOW_TO_FIX, doubted_approvals
from labtests.selectors.bench.rigs import rig_states


@gate("labtests.bench:view")
@require_safe
def bench_day(request: HttpRequest) -> HttpResponse:
    return _day(request)


def _day(request: HttpRequest, form: SpecimenInForm | None = None) -> HttpResponse:
    now = timezone.now()
    day = conditioning.bench_day(now)
    may_write = allowed(request.user, "labtests.conditioning:write")
    context = {
        "now": now,
        "day": day,
        "chambers": [bench_presentation.chamber_lines(chamber, now) for chamber in day.chambers],
        "taken_out": [bench_presentation.taken_out_line(one, now) for one in day.taken_out],
        "doubts": doubted_approvals(),
        "how_to_fix": HOW_TO_FIX,
        "rigs": bench_presentation.rig_lines(rig_states(timezone.localdate()), timezone.localdate()),
        "form": (form or SpecimenInForm()) if may_write else None,
        "may_write": may_write,
    }
    return render(request, "labtests/bench_day.html", context, status=status_of(form))


@gate("labtests.conditioning:write")
@require_POST
def specimen_put_in(request: HttpRequest) -> HttpResponse:
    form = SpecimenInForm(request.POST)
    if not form.is_valid():
        return _day(request, form)
    try:
        entry = services.specimen_in(actor=actor_of(request), **form.given())
    except DomainError as problem:
        add_problem(form, problem)
        return _day(request, form)
    words = bench_presentation.put_in_words(entry)
    if entry.is_repeat:
        messages.info(request, f"{words} That was already recorded; nothing was recorded twice.")
    else:
        messages.success(request, words)
    return redirect("labtests:bench-day")
