"""Need and match for what is on a fitting's page at this moment, whether it is stored or not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.http import HttpRequest

from core.gate.context import units_of
from core.models import Store
from fittings.domain.fitting.intake import Look
from fittings.domain.fitting.looks import OBSERVED, changes_of, movement_by_shoe
from fittings.domain.fitting.need import assess
from fittings.domain.fitting.referral import referral_at_fitting
from fittings.domain.shoes.sizing import size_in, size_of_pair
from fittings.forms.fitting.draft_page import DraftPage
from fittings.presentation.fitting import draft_bar
from fittings.presentation.fitting.looks import change_lines
from fittings.presentation.fitting.tried import tried_lines
from fittings.selectors.fitting.needs import current_rules
from fittings.selectors.fitting.recommendations import request_of_intake
from fittings.selectors.fitting.referral import reported_of
from fittings.selectors.fitting.worn import worn_shoe
from fittings.services.fitting.fitting import person_of, size_wanted
from fittings.views.common import need_context, shoes_context

UNDECIDED_USE = "walking"
"""While nobody has said what the shoes are for, the body mass, which counts for running alone, adds nothing."""


def answer_context(request: HttpRequest, page: DraftPage, store: Store) -> dict[str, Any]:
    """Context of need, match and the choices. What is not in order is left out, and the page says so."""
    in_order = page.check()
    intake = page.graded_intake()
    rules = current_rules()
    need = assess(person_of(intake if intake.use else replace(intake, use=UNDECIDED_USE)), rules.rules)
    size_eu = size_wanted(intake)
    changes = changes_of(Look(OBSERVED, intake.left, intake.right), intake.looks)
    page.name_places(need, movement_by_shoe(changes))
    referral = referral_at_fitting(reported_of(intake), page.stop_signs.stop.rules)
    context = need_context(need, referral) | {"recommended": None, "asked": [], "use_missing": not intake.use}
    if intake.use:
        wanted = request_of_intake(intake, need, store, size_eu, rules=rules.match)
        context |= shoes_context(request, wanted, request.POST.getlist("ask"))
    pair = size_of_pair(intake.left.length_mm, intake.right.length_mm)
    context["wanted_size"] = "" if size_eu is None else size_in(size_eu, page.size_system(store))
    context["feet_note"] = pair.note if pair else ""
    context["look_changes"] = change_lines(changes, page.try_ons.shoe_name)
    context["left_out_problems"] = not in_order
    bar = draft_bar.bar_of(
        context["need"].target, context["recommended"], intake.stop_signs, asked=intake.stop_signs_asked
    )
    context["bar"] = draft_bar.referral_words(bar, referral)
    context["tried_lines"] = tried_lines(page, worn_shoe(intake.current_shoe), units_of(request))
    context["next_shoes"] = draft_bar.next_to_try(context["recommended"], page.try_ons.cards)
    return context
