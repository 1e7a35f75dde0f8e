"""What the pages of fittings have in common: refusals as pages, lists of shoes to pick from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import wraps
from typing import Any

from csp.constants import SELF
from csp.decorators import csp_update
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import render

from catalogue.selectors import band_list
from core.domain.errors import DomainError
from core.gate.access import allowed
from core.gate.context import units_of
from fittings.domain.fitting.need import Need
from fittings.domain.fitting.referral import Referral
from fittings.models import ClinicianReply
from fittings.presentation.fitting import fittings as presentation
from fittings.presentation.fitting.availability import size_gap
from fittings.presentation.fitting.cautions import left_out_words
from fittings.presentation.fitting.drawings import target_drawing
from fittings.selectors.fitting.recommendations import Request, recommend
from fittings.selectors.fitting.shoe_names import shoes_by_text

View = Callable[..., HttpResponseBase]
RECOMMENDED = 8
_CAMERA_HERE = "camera=(self), microphone=(), geolocation=()"


def camera_here(view: View) -> View:
    """Let the page of a view use the camera, and show a video that was chosen on the device."""

    @wraps(view)
    def shown(*args: Any, **kwargs: Any) -> HttpResponseBase:
        response = view(*args, **kwargs)
        response.headers["Permissions-Policy"] = _CAMERA_HERE
        return response

    allowing: View = csp_update({"media-src": [SELF, "blob:"]})(shown)
    return allowing


def domain_errors_as_pages(view: View) -> View:
    """Turn an expected failure into a page of its status, with its message."""

    @wraps(view)
    def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        try:
            return view(request, *args, **kwargs)
        except DomainError as problem:
            if problem.status == 404:
                raise Http404(problem.message) from problem
            context = {"message": problem.message, "status": problem.status}
            return render(request, "fittings/refused.html", context, status=problem.status)

    return answer


def need_context(need: Need, referral: Referral) -> dict[str, Any]:
    """Context of `fittings/_need.html`."""
    return {
        "need": presentation.need_lines(need),
        "drawing": target_drawing(need, band_list()),
        "refer": referral.advice,
        "left_out_words": left_out_words(need),
    }


def shoes_context(
    request: HttpRequest, wanted: Request, asked: Sequence[str], reply: ClinicianReply | None = None
) -> dict[str, Any]:
    """Context of `fittings/_shoes.html`; `asked` are names of shoes that are answered for in any case."""
    texts = [" ".join(text.replace("\x00", " ").split()) for text in asked][:RECOMMENDED]
    named = shoes_by_text(texts)
    recommendations = recommend(wanted, limit=RECOMMENDED, asked=[shoe.slug for shoe in named.values() if shoe.slug])
    return {
        "gap": size_gap(recommendations, wanted.store),
        "may_transfer": allowed(request.user, "catalogue.transfer:write", wanted.store),
        "recommended": presentation.recommendation_page(recommendations, units_of(request), reply),
        "asked": [text for text in texts if text],
        "ask_problem": " ".join(shoe.problem for shoe in named.values() if shoe.problem),
    }
