"""Which published shoes answer a need, with what the stores hold of them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Literal, cast

import numpy as np

from catalogue import selectors as catalogue
from catalogue.models import Shoe
from catalogue.selectors import Candidate, ShoeRow, StoreSizes
from core.models import Store
from core.web.display import number
from core.web.display import size as size_words
from fittings.domain.fitting.clinician_wishes import RANKED_BY, WISHES, ranking_wish
from fittings.domain.fitting.intake import FittingIntake
from fittings.domain.fitting.need import Need
from fittings.domain.fitting.rules_data import match_from_data
from fittings.domain.shoes.insoles import insole_warning
from fittings.domain.shoes.match_rules import M1, MatchRules
from fittings.domain.shoes.matching import USES_ACCEPTED, Candidates, LeftOut, Suggestion, Wish, match
from fittings.domain.shoes.sizing import width_note
from fittings.domain.shoes.widths import foot_width, width_remark
from fittings.models import Fitting
from fittings.selectors.fitting.needs import current_rules, need_of

LIMIT_MAX = 100
NEAR_SIZE = Decimal("0.5")


@dataclass(frozen=True, slots=True)
class Request:
    """A need and what else the person brings, in a store; `clinician` are the wishes of a clinician's reply."""

    need: Need
    store: Store
    use: str
    body_mass_kg: float | None
    size_eu: Decimal | None
    current_slug: str | None
    current_drop_mm: float | None
    cushioning: str
    rules: MatchRules = M1
    width_note: str = ""
    foot_width: str = ""
    insole: str = ""
    clinician: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Recommended:
    """A shoe shown. `in_stock` holds the wanted size and its neighbours by store; every size where none is wanted."""

    suggestion: Suggestion
    shoe: ShoeRow
    in_stock: tuple[StoreSizes, ...]


@dataclass(frozen=True, slots=True)
class Recommendations:
    """Shoes for a need; `width_note` says what no shoe was matched on, `titles` names those left out."""

    need: Need
    size_eu: Decimal | None
    nothing_in_range: bool
    results: tuple[Recommended, ...]
    left_out: tuple[LeftOut, ...]
    width_note: str = ""
    titles: Mapping[str, str] = field(default_factory=dict)


def request_of_fitting(fitting: Fitting, clinician: Sequence[str] = ()) -> Request:
    """What a kept fitting asks for, and a clinician for it: one query. Raises a 409 where nothing was kept."""
    shoe = fitting.current_shoe
    feet = {foot: (length, width) for foot, length, width in fitting.feet.values_list("foot", "length_mm", "width_mm")}
    left, right = (feet.get(side, (None, None)) for side in ("left", "right"))
    return Request(
        need=need_of(fitting),
        store=fitting.store,
        use=fitting.use,
        body_mass_kg=fitting.body_mass_kg,
        size_eu=fitting.size_eu,
        current_slug=shoe.slug if shoe else None,
        current_drop_mm=shoe.drop_mm if shoe else None,
        cushioning=fitting.cushioning_wish,
        # A past fitting is matched by the rules that it was made by.
        rules=match_from_data(fitting.rules.match if fitting.rules else {}),
        width_note=width_note(left[1], right[1]),
        foot_width=foot_width([left, right]),
        insole=fitting.insole,
        clinician=tuple(clinician),
    )


def request_of_intake(
    intake: FittingIntake, need: Need, store: Store, size_eu: Decimal | None, *, rules: MatchRules | None = None
) -> Request:
    """What a fitting asks for that is not kept; by the rules in use where the caller has not read them yet."""
    shoe = Shoe.objects.filter(slug=intake.current_shoe).first() if intake.current_shoe else None
    return Request(
        need=need,
        store=store,
        use=intake.use,
        body_mass_kg=intake.body_mass_kg,
        size_eu=size_eu,
        current_slug=shoe.slug if shoe else None,
        current_drop_mm=shoe.drop_mm if shoe else None,
        cushioning=intake.cushioning,
        rules=rules or current_rules().match,
        width_note=width_note(intake.left.width_mm, intake.right.width_mm),
        foot_width=foot_width([(foot.length_mm, foot.width_mm) for foot in (intake.left, intake.right)]),
        insole=intake.insole,
    )


def recommend(request: Request, *, limit: int = 10, asked: Sequence[str] = ()) -> Recommendations:
    """Rank the published shoes for a request: three queries, however many shoes.

    Parameters
    ----------
    limit : how many are shown at most
    asked : slugs that are answered for in any case
    """
    shoes = catalogue.candidates(question_of(request, asked=asked))
    wish = ranking_wish(request.clinician)
    most = LIMIT_MAX if wish else limit
    matched = match(arrays_of(shoes), _wish(request), limit=most, asked=asked, rules=request.rules)
    rows = catalogue.candidate_rows([shoes[item.index].shoe_id for item in matched.results], sizes=_near(request))
    results = tuple(
        Recommended(_with_remarks(item, row, request), row, _own_store_first(row, request))
        for item in matched.results
        for row in (rows[shoes[item.index].shoe_id],)
    )
    names = {shoe.slug: shoe.title for shoe in shoes}
    left_out = matched.left_out
    if wish:
        can_be_had = {shoe.slug for shoe in shoes if shoe.here or shoe.sister}
        results = tuple(sorted(results, key=lambda item: _for_clinician(item, wish, can_be_had)))
        left_out = (*(LeftOut(item.shoe.slug, _later(wish, limit)) for item in results[limit:]), *left_out)
        results = tuple(_with_wish(item, wish) for item in results[:limit])
    titles = {item.slug: names[item.slug] for item in left_out}
    return Recommendations(
        request.need, request.size_eu, matched.nothing_in_range, results, left_out, request.width_note, titles
    )


def _wished(item: Recommended, wish: str) -> float | None:
    """The score that a clinician's wish is about."""
    return item.shoe.scores()[RANKED_BY[wish][0]].value


def _for_clinician(item: Recommended, wish: str, can_be_had: Collection[str]) -> tuple[bool, float]:
    """The place of a shoe for a clinician's wish: those to be had in the size first, the unknown score last."""
    score = _wished(item, wish)
    return item.shoe.slug not in can_be_had, np.inf if score is None else -score


def _with_wish(item: Recommended, wish: str) -> Recommended:
    name, words = RANKED_BY[wish]
    score = number(_wished(item, wish))
    reason = f"{name.capitalize()} {score}: the clinician asks for {WISHES[wish]}, so {words}"
    return replace(item, suggestion=replace(item.suggestion, reasons=(reason, *item.suggestion.reasons)))


def _later(wish: str, limit: int) -> str:
    return f"After the {limit} shown: {RANKED_BY[wish][1]}, as the clinician asks for {WISHES[wish]}"


def _with_remarks(suggestion: Suggestion, shoe: ShoeRow, request: Request) -> Suggestion:
    """Add what the shoe's widths and insole mean for this person; they rank nothing."""
    width, is_warning = width_remark(request.foot_width, shoe.widths, shoe.wearer)
    warnings = (insole_warning(request.insole, shoe.removable_insole), width if is_warning else "")
    return replace(
        suggestion,
        reasons=(*suggestion.reasons, *filter(None, ["" if is_warning else width])),
        warnings=(*suggestion.warnings, *filter(None, warnings)),
    )


def question_of(request: Request, *, asked: Sequence[str] = ()) -> catalogue.Question:
    """What the catalogue is asked for a request."""
    return catalogue.Question(
        store_id=request.store.pk,
        low=request.need.low,
        high=request.need.high,
        uses=USES_ACCEPTED[request.use],
        size_eu=request.size_eu,
        body_mass_kg=request.body_mass_kg if request.use == "running" else None,
        asked=asked,
    )


def _wish(request: Request) -> Wish:
    cushioning = cast(Literal["more", "less"], request.cushioning) if request.cushioning else None
    return Wish(
        low=request.need.low,
        high=request.need.high,
        use=request.use,
        body_mass_kg=request.body_mass_kg,
        size=None if request.size_eu is None else size_words(request.size_eu),
        current_slug=request.current_slug,
        current_drop_mm=request.current_drop_mm,
        cushioning=cushioning,
    )


def _numbers(values: Sequence[float | None]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array(values, dtype=np.float64)


def _flags(values: Sequence[bool]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return np.array(values, dtype=np.bool_)


def arrays_of(shoes: Sequence[Candidate]) -> Candidates:
    """The catalogue's candidates as the match wants them."""
    return Candidates(
        slug=[shoe.slug for shoe in shoes],
        use=[shoe.use for shoe in shoes],
        band=[shoe.band for shoe in shoes],
        stability=_numbers([shoe.stability for shoe in shoes]),
        u=_numbers([shoe.stability_u for shoe in shoes]),
        cushioning=_numbers([shoe.cushioning for shoe in shoes]),
        drop_mm=_numbers([shoe.drop_mm for shoe in shoes]),
        runner_mass_max_kg=_numbers([shoe.runner_mass_max_kg for shoe in shoes]),
        here=_flags([shoe.here for shoe in shoes]),
        sister=_flags([shoe.sister for shoe in shoes]),
        provisional=_flags([shoe.is_provisional for shoe in shoes]),
        borderline=_flags([shoe.is_borderline for shoe in shoes]),
        discontinued=_flags([shoe.is_discontinued for shoe in shoes]),
        df=_numbers([shoe.stability_df for shoe in shoes]),
    )


def _near(request: Request) -> tuple[Decimal, Decimal] | None:
    """The sizes worth fetching; None for all, where none is wanted."""
    return None if request.size_eu is None else (request.size_eu - NEAR_SIZE, request.size_eu + NEAR_SIZE)


def _own_store_first(shoe: ShoeRow, request: Request) -> tuple[StoreSizes, ...]:
    return tuple(sorted(shoe.stores, key=lambda store: store.slug != request.store.slug))
