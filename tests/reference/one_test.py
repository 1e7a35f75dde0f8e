"""The uncertainty of one test by itself; the application works out those of many at once."""

from __future__ import annotations

from collections.abc import Sequence

from labtests.domain.curves.curves import STANDARD, Target
from labtests.domain.scores.evaluation import Evaluation
from labtests.domain.scores.scoring import Model
from labtests.domain.uncertainty.propagation import Effect
from labtests.domain.uncertainty.scatter import Scatter
from labtests.domain.uncertainty.uncertainty import (
    Calibration,
    ScoreUncertainties,
    UncertaintySources,
    uncertainties_of_tests,
)


def uncertainty_of_test(
    evaluation: Evaluation,
    scatter: Scatter | None,
    calibrations: Sequence[Calibration],
    *,
    model: Model,
    target: Target = STANDARD,
    effects: Sequence[Effect] = (),
    setups: Sequence[Scatter] = (),
) -> ScoreUncertainties | None:
    sources = UncertaintySources(evaluation, scatter, tuple(calibrations), tuple(effects), tuple(setups))
    (found,) = uncertainties_of_tests([sources], model=model, target=target)
    return found
