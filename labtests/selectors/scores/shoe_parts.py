"""From results of tests, as columns, to the scores of their shoes: the same for one shoe and for all."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from core.domain.units import FloatArray, IntArray
from labtests.domain.scores.places import TestPlaces
from labtests.domain.scores.scoring import SCORES, Model, Scores
from labtests.domain.scores.shoe_scores import BenchTestScores, Pooled, ShoeScores, combine_all
from labtests.domain.uncertainty.uncertainty_parts import ResultParts
from labtests.selectors.scores.pools import RigSetups

Columns = Mapping[str, npt.NDArray[Any]]
SECONDS_A_DAY = 86400


def parts_of(results: Columns) -> ResultParts:
    """The uncertainties in columns of results; nan where a value is null."""

    def scores(end: str) -> Scores:
        return Scores(**{name: results[f"{name}_{end}"] for name in SCORES})

    df = Scores(**{name: _limited(results[f"{name}_df"]) for name in SCORES})
    ends = (scores("u"), scores("u_a"), scores("u_b"))
    return ResultParts(*ends, df, _limited(results["repeats_df"]), _limited(results["setup_df"]))


def _limited(df: FloatArray) -> FloatArray:
    return np.where(np.isnan(df), np.inf, df)


def places_of(
    tests: Columns, rows: IntArray, specimen: IntArray, shoe_of: IntArray, *, setups: RigSetups, shoes: int
) -> TestPlaces:
    """Places of some rows of tests; `specimen` and `shoe_of` are places from 0."""
    rig_ids = np.array(list(setups.place), dtype=np.int64)
    return TestPlaces(
        specimen=specimen,
        shoe_of=shoe_of,
        shoes=shoes,
        rig=np.searchsorted(rig_ids, tests["rig_id"][rows]).astype(np.int64),
        day=(tests["performed_s"][rows] // SECONDS_A_DAY).astype(np.int64),
        rigs=len(rig_ids),
    )


def combined(
    scores: Scores,
    parts: ResultParts,
    rows: IntArray,
    places: TestPlaces,
    *,
    pooled: Mapping[str, Pooled],
    model: Model,
) -> dict[str, ShoeScores]:
    """Each score of the shoes of some rows of tests."""
    rest_df = parts.rest_df(model)
    return {
        name: combine_all(
            BenchTestScores(
                value=getattr(scores, name)[rows],
                type_a=getattr(parts.type_a, name)[rows],
                type_b=getattr(parts.type_b, name)[rows],
                a_df=parts.repeats_df[rows],
                b_df=getattr(rest_df, name)[rows],
            ),
            places,
            pooled[name],
        )
        for name in SCORES
    }
