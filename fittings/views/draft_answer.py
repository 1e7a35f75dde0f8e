"""Need and match for what stands on a fitting's page at this moment, whether it is kept or not."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from core.models import Store
from core.web.display import bare_size
from fittings.domain.fitting.intake import Look
from fittings.domain.fitting.looks import OBSERVED, changes_of, movement_by_shoe
from fittings.domain.fitting.need import assess
from fittings.domain.fitting.referral import referral_at_fitting
from fittings.forms.draft_page import DraftPage
from fittings.presentation.looks import change_lines
from fittings.selectors.needs import current_rules
from fittings.selectors.recommendations import request_of_intake
from fittings.services.fitting import person_of, size_wanted
from fittings.views.common import need_context, shoes_context


def answer_context(request: HttpRequest, page: DraftPage, store: Store) -> dict[str, Any]:
    """Context of need, match and the choices. What is not in order is left out, and the page says so."""
    in_order = page.check()
    intake = page.graded_intake()
    rules = current_rules()
    need = assess(person_of(intake), rules.rules)
    size_eu = size_wanted(intake)
    changes = changes_of(Look(OBSERVED, intake.left, intake.right), intake.looks)
    page.name_places(need, movement_by_shoe(changes))
    asked = request.POST.getlist("ask") if request.method == "POST" else []
    wanted = request_of_intake(intake, need, store, size_eu, rules=rules.match)
    context = need_context(need, referral_at_fitting(intake.stop_signs, intake.pain_now))
    context |= shoes_context(request, wanted, [slug for slug in asked if slug])
    context["wanted_size"] = "" if size_eu is None else f"EU {bare_size(size_eu)}"
    context["look_changes"] = change_lines(changes, page.try_ons.shoe_name)
    context["left_out_problems"] = not in_order
    return context
