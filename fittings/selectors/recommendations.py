"""Which published shoes answer a need, with what the stores hold of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, cast

import numpy as np

from catalogue import selectors as catalogue
from catalogue.models import Shoe
from catalogue.selectors import ShoeRow, StoreSizes
from core.display import size as size_words
from core.models import Store
from fittings.domain.matching import Candidates, LeftOut, Suggestion, Wish, match
from fittings.domain.need import Need
from fittings.intake import FittingIntake
from fittings.models import Fitting
from fittings.selectors.needs import need_of

LIMIT_MAX = 100
NEAR_SIZE = Decimal("0.5")


@dataclass(frozen=True, slots=True)
class Request:
    """A need and what else the person brings, in a store."""

    need: Need
    store: Store
    use: str
    body_mass_kg: float | None
    size_eu: Decimal | None
    current_slug: str | None
    current_drop_mm: float | None
    cushioning: str


@dataclass(frozen=True, slots=True)
class Recommended:
    """A shoe shown. `in_stock` holds the wanted size and its neighbours by store; every size where none is wanted."""

    suggestion: Suggestion
    shoe: ShoeRow
    in_stock: tuple[StoreSizes, ...]


@dataclass(frozen=True, slots=True)
class Recommendations:
    need: Need
    size_eu: Decimal | None
    nothing_in_range: bool
    results: tuple[Recommended, ...]
    left_out: tuple[LeftOut, ...]


def request_of_fitting(fitting: Fitting) -> Request:
    """What a kept fitting asks for. Raises a 409 where nothing was kept."""
    shoe = fitting.current_shoe
    return Request(
        need=need_of(fitting),
        store=fitting.store,
        use=fitting.use,
        body_mass_kg=fitting.body_mass_kg,
        size_eu=fitting.size_eu,
        current_slug=shoe.slug if shoe else None,
        current_drop_mm=shoe.drop_mm if shoe else None,
        cushioning=fitting.cushioning_wish,
    )


def request_of_intake(intake: FittingIntake, need: Need, store: Store, size_eu: Decimal | None) -> Request:
    """What a fitting asks for that is not kept."""
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
    )


def recommend(request: Request, *, limit: int = 10, asked: Sequence[str] = ()) -> Recommendations:
    """Rank the published shoes for a request: two queries, however many shoes.

    Parameters
    ----------
    limit : how many are shown at most
    asked : slugs whose fate is told in any case
    """
    shoes = catalogue.candidates()
    found = match(_arrays(shoes, request), _wish(request), limit=limit, asked=asked)
    results = tuple(
        Recommended(item, shoes[item.index], _near_sizes(shoes[item.index], request)) for item in found.results
    )
    return Recommendations(request.need, request.size_eu, found.nothing_in_range, results, found.left_out)


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


def _held(store: StoreSizes, size_eu: Decimal | None) -> bool:
    return size_eu is None or size_eu in store.sizes


def _numbers(values: Sequence[float | None]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _flags(values: Sequence[bool]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return np.array(values, dtype=np.bool_)


def _arrays(shoes: Sequence[ShoeRow], request: Request) -> Candidates:
    here, size_eu = request.store.slug, request.size_eu
    return Candidates(
        slug=[shoe.slug for shoe in shoes],
        use=[shoe.use for shoe in shoes],
        band=[shoe.band.name for shoe in shoes],
        stability=_numbers([shoe.stability.value for shoe in shoes]),
        u=_numbers([shoe.stability.u for shoe in shoes]),
        cushioning=_numbers([shoe.cushioning.value for shoe in shoes]),
        drop_mm=_numbers([shoe.drop_mm for shoe in shoes]),
        runner_mass_max_kg=_numbers([shoe.band.runner_mass_max_kg for shoe in shoes]),
        here=_flags([any(s.slug == here and _held(s, size_eu) for s in shoe.stores) for shoe in shoes]),
        sister=_flags([any(s.slug != here and _held(s, size_eu) for s in shoe.stores) for shoe in shoes]),
        provisional=_flags([shoe.band.provisional for shoe in shoes]),
        borderline=_flags([shoe.band.borderline for shoe in shoes]),
        discontinued=_flags([shoe.is_discontinued for shoe in shoes]),
    )


def _near_sizes(shoe: ShoeRow, request: Request) -> tuple[StoreSizes, ...]:
    """The sizes worth fetching, the store of the fitting first."""
    wanted = request.size_eu
    held = [
        StoreSizes(
            store.slug,
            store.name,
            tuple(size for size in store.sizes if wanted is None or abs(size - wanted) <= NEAR_SIZE),
        )
        for store in sorted(shoe.stores, key=lambda store: store.slug != request.store.slug)
    ]
    return tuple(store for store in held if store.sizes)
