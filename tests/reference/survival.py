"""The curve and the test of people given one by one; the application has them counted by its database."""

from __future__ import annotations

from collections.abc import Sequence

from numpy.typing import ArrayLike

from fittings.domain.outcomes.survival import LogRank, SurvivalCurve, curve_of, life_table, log_rank_of


def kaplan_meier(duration: ArrayLike, event: ArrayLike, confidence: float = 0.95) -> SurvivalCurve:
    return curve_of(life_table(duration, event), confidence)


def log_rank(groups: Sequence[tuple[ArrayLike, ArrayLike]]) -> LogRank:
    return log_rank_of([life_table(duration, event) for duration, event in groups])
