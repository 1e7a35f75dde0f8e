"""Variance components pooled over the catalogue, as they are stored and as they are with a shoe's newest tests."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.scores.places import TestPlaces
from labtests.domain.scores.scoring import SCORES, Model, Scores
from labtests.domain.scores.shoe_scores import Pooled
from labtests.domain.uncertainty.components import NOTHING, LevelSums, Pool, component, sums_of_shoes
from labtests.domain.uncertainty.reading_squares import by_model, squares_of_scores
from labtests.domain.uncertainty.scatter import Scatter
from labtests.models import Level, ShoeScatter, VariancePool
from labtests.selectors.scores.setups import setup_of_score, setup_squares, setups_of_rigs

Pools = dict[str, Pool]


@dataclass(frozen=True, slots=True, eq=False)
class RigSetups:
    """What days and set-ups add on each of some rigs; `place` leads from a rig's id to its place."""

    place: dict[int, int]
    scatters: tuple[tuple[Scatter, ...], ...]

    def squares(self) -> FloatArray:
        """Shape (rigs, 4)."""
        return np.array([setup_squares(found) for found in self.scatters]).reshape(-1, 4)


def rig_setups(rig_ids: Iterable[int], model: Model) -> RigSetups:
    """Look up the set-ups of some rigs."""
    found = setups_of_rigs(set(rig_ids), model)
    return RigSetups({pk: place for place, pk in enumerate(found)}, tuple(found.values()))


def pools_stored() -> Pools:
    """The pools as the last publication left them; empty ones where nothing was published yet."""
    found: Pools = dict.fromkeys(Level.values, NOTHING)
    return found | {pool.level: pool.to_domain() for pool in VariancePool.objects.all()}


def sums_stored(shoes: Collection[int]) -> dict[str, LevelSums]:
    """The sums of some shoes as they are in the pools; a shoe that is not in them has no row."""
    columns = [f"{level}_{name}" for level in Level.values for name in ("df", "squares", "explained")]
    rows = list(ShoeScatter.objects.filter(shoe__in=shoes).order_by("shoe").values(*columns))

    def quadruples(name: str) -> FloatArray:
        return np.array([row[name] for row in rows], dtype=np.float64).reshape(-1, 4)

    return {
        level: LevelSums(
            np.array([row[f"{level}_df"] for row in rows], dtype=np.int64),
            quadruples(f"{level}_squares"),
            quadruples(f"{level}_explained"),
        )
        for level in Level.values
    }


def sums_of(
    readings: FloatArray, type_a: Scores, places: TestPlaces, setups: RigSetups, model: Model
) -> dict[str, LevelSums]:
    """Sums of squares of shoes by level, from the results of their tests."""
    repeats = squares_of_scores(type_a, model)
    tests, specimens = sums_of_shoes(readings, repeats, places, setups.squares())
    return {Level.TESTS: tests, Level.SPECIMENS: specimens}


def pools_with(stored: Pools, before: Mapping[str, LevelSums], now: Mapping[str, LevelSums]) -> Pools:
    """The pools with some shoes' sums as they are now in the place of those that are in them."""
    return {
        level: pool if _is_same(before[level], now[level]) else pool.changed(before[level], -1).changed(now[level], 1)
        for level, pool in stored.items()
    }


def _is_same(one: LevelSums, two: LevelSums) -> bool:
    """Whether sums are the very same, so that adding and taking away does not change the last digits."""
    pairs = ((one.df, two.df), (one.squares, two.squares), (one.explained, two.explained))
    return all(np.array_equal(first.sum(axis=0), second.sum(axis=0)) for first, second in pairs)


def pooled_by_score(pools: Pools, setups: RigSetups, model: Model) -> dict[str, Pooled]:
    """What the catalogue knows of the scatter of each score."""
    weights = by_model(model)
    return {name: _pooled(pools, setups, weights[name]) for name in SCORES}


def _pooled(pools: Pools, setups: RigSetups, weights: FloatArray) -> Pooled:
    known = [setup_of_score(found, weights) for found in setups.scatters]
    specimens = component(pools[Level.SPECIMENS], weights)
    return Pooled(
        setup2=np.array([variance for variance, _ in known]),
        setup_df=np.array([df for _, df in known]),
        specimens2=None if specimens is None else specimens.variance,
        specimens_below=0.0 if specimens is None else specimens.below,
    )
