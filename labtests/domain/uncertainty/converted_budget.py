"""The uncertainty budgets of a test under another scoring model, from those under the model that scored it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from labtests.domain.scores.scoring import Model
from labtests.domain.uncertainty.propagation import POINTS, Budget, BudgetRow


def convert_budgets(budgets: Mapping[str, Budget], *, old: Model, new: Model) -> dict[str, Budget]:
    """Budgets of the four scores by another model.

    Parameters
    ----------
    budgets : mapping of Budget by score
        As `old` gave them.
    old, new : Model
        The models.

    Returns
    -------
    dict of Budget by score
        Exact: the scores are linear in the readings, so that each sensitivity changes by the ratio of the scales. The
        shares of midfoot, rearfoot and cushioning and their degrees of freedom stay; those of stability change with
        the weights.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 and G.4.1 equation G.2b.

    Examples
    --------
    >>> from labtests.domain.scores.scoring import S1
    >>> rows = (BudgetRow("torque", "A", 0.1, "N·m", 11.0, 1.1, 1.0),)
    >>> wide = replace(S1, torque_100_nm=2 * S1.torque_100_nm)
    >>> found = convert_budgets({"midfoot": Budget(4.0, rows)}, old=S1, new=wide)["midfoot"]
    >>> found.df, round(found.rows[0].contribution, 9)
    (4.0, 0.55)
    """
    ratios = {
        "midfoot": (old.torque_100_nm - old.torque_0_nm) / (new.torque_100_nm - new.torque_0_nm),
        "rearfoot": (old.deflection_100_mm - old.deflection_0_mm) / (new.deflection_100_mm - new.deflection_0_mm),
        "cushioning": (old.work_100_j - old.work_0_j) / (new.work_100_j - new.work_0_j),
    }
    found = {
        name: Budget(budgets[name].df, tuple(_times(row, ratio) for row in budgets[name].rows))
        for name, ratio in ratios.items()
        if name in budgets
    }
    if "midfoot" in found and "rearfoot" in found:
        pair = _Pair(budgets.get("stability"), budgets["midfoot"], budgets["rearfoot"], old)
        found["stability"] = _weighed(found["midfoot"], found["rearfoot"], new, pair, ratios)
    return found


def _times(row: BudgetRow, ratio: float) -> BudgetRow:
    if row.unit == POINTS:
        return replace(row, u=row.u * abs(ratio), contribution=row.contribution * abs(ratio))
    return replace(row, sensitivity=row.sensitivity * ratio, contribution=row.contribution * abs(ratio))


@dataclass(frozen=True, slots=True)
class _Pair:
    """The budgets by the old model, from which follows how sources in points go together."""

    stability: Budget | None
    midfoot: Budget
    rearfoot: Budget
    old: Model

    def covariance(self, source: str) -> float:
        """Of what a source in points does to midfoot and to rearfoot, points² of the old model."""
        weights = self.old.weight_midfoot, self.old.weight_rearfoot
        if self.stability is None or not all(weights):
            return 0.0
        whole, midfoot, rearfoot = (_u_of(budget, source) for budget in (self.stability, self.midfoot, self.rearfoot))
        alone = (weights[0] * midfoot) ** 2 + (weights[1] * rearfoot) ** 2
        return (whole**2 - alone) / (2.0 * weights[0] * weights[1])


def _u_of(budget: Budget, source: str) -> float:
    return next((row.u for row in budget.rows if row.source == source and row.unit == POINTS), 0.0)


def _weighed(midfoot: Budget, rearfoot: Budget, model: Model, pair: _Pair, ratios: Mapping[str, float]) -> Budget:
    """Stability's budget: rows of one source are one row; the others stand below each other."""
    weighed = ((midfoot, model.weight_midfoot), (rearfoot, model.weight_rearfoot))
    rows: dict[tuple[str, str], BudgetRow] = {}
    for part, weight in weighed:
        for row in part.rows:
            if weight > 0.0:
                mine = _times(row, weight)
                other = rows.get((row.source, row.unit))
                rows[row.source, row.unit] = mine if other is None else _together(other, mine, pair, ratios, model)
    total = math.fsum(row.contribution**2 for row in rows.values())
    shares = (row.contribution**2 / total if total else 0.0 for row in rows.values())
    shared = tuple(replace(row, share=share) for row, share in zip(rows.values(), shares, strict=True))
    return Budget(_df_of(shared, weighed), shared)


def _together(first: BudgetRow, second: BudgetRow, pair: _Pair, ratios: Mapping[str, float], model: Model) -> BudgetRow:
    """What one source does by way of midfoot and of rearfoot, both already weighed."""
    if first.unit != POINTS:
        sensitivity = first.sensitivity + second.sensitivity
        return replace(first, sensitivity=sensitivity, contribution=abs(sensitivity) * first.u)
    covariance = pair.covariance(first.source) * ratios["midfoot"] * ratios["rearfoot"]
    square = first.u**2 + second.u**2 + 2.0 * model.weight_midfoot * model.weight_rearfoot * covariance
    u = math.sqrt(max(0.0, square))
    return replace(first, u=u, contribution=u)


def _df_of(rows: Sequence[BudgetRow], weighed: Sequence[tuple[Budget, float]]) -> float:
    """Effective degrees of freedom; from those of the two parts where those of the rows were not stored."""
    total = math.fsum(row.contribution**2 for row in rows)
    if any(math.isnan(row.df) for row in rows):
        # Sum of c⁴/df of a part's sources is u⁴/df of the part.
        below = math.fsum(
            (weight**2 * math.fsum(row.contribution**2 for row in part.rows)) ** 2 / part.df for part, weight in weighed
        )
    else:
        below = math.fsum(row.contribution**4 / row.df for row in rows)
    return total**2 / below if below > 0.0 else math.inf
