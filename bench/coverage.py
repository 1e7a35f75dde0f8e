"""Coverage of ± U: how often a shoe's true stability is within it, by simulation of whole catalogues.

Each simulated shoe has a true score, specimens that differ from it, tests of three repeats and a rig with an error of
its own. What the program would publish is worked out by its own functions: pooled components, combination, k from the
degrees of freedom. Run with ``python -m bench.coverage``; ``--catalogues 50`` is quicker.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from core.domain.coverage import LEVEL, coverage_factors
from labtests.domain.scores.places import TestPlaces
from labtests.domain.scores.scoring import S1
from labtests.domain.scores.shoe_scores import BenchTestScores, Pooled, combine_all
from labtests.domain.uncertainty.components import Pool, component, sums_of_shoes
from labtests.domain.uncertainty.reading_squares import by_model, points_per_unit, squares_of_products

Floats = npt.NDArray[np.float64]
SPECIMENS = (1, 2, 3, 5)
SPREADS = (0.2, 0.5, 2.0)
LOW, HIGH = 0.93, 0.97
SHOES_EACH, REPEATS = 20, 3
REPEATS_SD, RIG_U = 0.3, 0.25
"""Points of stability: of single repeats, and of a rig's calibrations."""


@dataclass(frozen=True, slots=True)
class Covered:
    """How many of the shoes with so many specimens had their true score within ± U."""

    spread: float
    specimens: int
    shoes: int
    share: float


def simulate(spread: float, catalogues: int, rng: np.random.Generator) -> list[Covered]:
    """Coverage by number of specimens, for specimens that differ by a standard deviation of `spread` points."""
    hits = [_catalogue(spread, rng) for _ in range(catalogues)]
    specimens = np.repeat(SPECIMENS, SHOES_EACH)
    table = np.array(hits)
    return [Covered(spread, n, catalogues * SHOES_EACH, float(table[:, specimens == n].mean())) for n in SPECIMENS]


def _catalogue(spread: float, rng: np.random.Generator) -> npt.NDArray[np.bool_]:
    """One catalogue; for each of its shoes whether U covers the true score."""
    specimens = np.repeat(SPECIMENS, SHOES_EACH)
    shoes = len(specimens)
    shoe_of = np.repeat(np.arange(shoes), specimens)
    tests = len(shoe_of)
    truth = rng.uniform(45.0, 85.0, shoes)
    rig_error = rng.normal(0.0, RIG_U, shoes)
    repeats = rng.normal(0.0, REPEATS_SD, (tests, REPEATS))
    values = (truth + rig_error)[shoe_of] + rng.normal(0.0, spread, tests) + repeats.mean(axis=1)
    type_a = repeats.std(axis=1, ddof=1) / np.sqrt(REPEATS)
    zeros = np.zeros(tests, dtype=np.int64)
    places = TestPlaces(specimen=np.arange(tests), shoe_of=shoe_of, shoes=shoes, rig=zeros, day=zeros, rigs=1)
    limits = np.full(tests, REPEATS - 1.0), np.full(tests, np.inf)
    found = combine_all(
        BenchTestScores(values, type_a, np.full(tests, RIG_U), *limits), places, _pool(values, type_a, places)
    )
    return np.asarray(np.abs(found.value - truth) <= coverage_factors(found.df) * found.u)


def _pool(values: Floats, type_a: Floats, places: TestPlaces) -> Pooled:
    """Pool the specimens of all shoes, all of the score's scatter in the torque."""
    points = S1.weight_midfoot * points_per_unit(S1)[0]
    nothing = np.zeros(len(values))
    readings = np.column_stack([values / points, nothing, nothing])
    repeats = squares_of_products(type_a / points, nothing, nothing)
    _, specimens = sums_of_shoes(readings, repeats, places, np.zeros((1, 4)))
    pool = Pool(0, 0, np.zeros(4), np.zeros(4)).changed(specimens, 1)
    known = component(pool, by_model(S1)["stability"])
    if known is None:
        raise AssertionError("a catalogue has shoes with several specimens")
    return Pooled(np.zeros(1), np.full(1, np.inf), known.variance, known.below)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--catalogues", type=int, default=400)
    catalogues = parser.parse_args().catalogues
    rng = np.random.default_rng(12)
    found = [line for spread in SPREADS for line in simulate(spread, catalogues, rng)]
    print(f"Coverage of ± U, nominal {LEVEL:.2%}, wanted {LOW} to {HIGH}")
    for line in found:
        word = "" if LOW <= line.share <= HIGH else "  OUTSIDE"
        print(f"s = {line.spread:<4} {line.specimens} specimens: {line.share:.4f} of {line.shoes:,} shoes{word}")
    if any(not LOW <= line.share <= HIGH for line in found):
        raise SystemExit(1)


if __name__ == "__main__":
    main()
