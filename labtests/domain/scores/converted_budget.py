"""The uncertainty budgets of a test under another scoring model, from those under the model that scored it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from labtests.domain.scores.propagation import Budget, BudgetRow
from labtests.domain.scores.scoring import Model


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
        found["stability"] = _weighed(found["midfoot"], found["rearfoot"], new)
    return found


def _times(row: BudgetRow, ratio: float) -> BudgetRow:
    return replace(row, sensitivity=row.sensitivity * ratio, contribution=row.contribution * abs(ratio))


def _weighed(midfoot: Budget, rearfoot: Budget, model: Model) -> Budget:
    """Stability's budget: the rows of midfoot and rearfoot below each other; what acts on both is one row."""
    weighed = ((midfoot, model.weight_midfoot), (rearfoot, model.weight_rearfoot))
    rows: dict[tuple[str, str, int | None], BudgetRow] = {}
    for part, weight in weighed:
        for row in part.rows if weight > 0.0 else ():
            key = row.source, row.type_, row.calibration
            sensitivity = row.sensitivity * weight + (rows[key].sensitivity if key in rows else 0.0)
            rows[key] = replace(row, sensitivity=sensitivity, contribution=abs(sensitivity) * row.u)
    total = math.fsum(row.contribution**2 for row in rows.values())
    # Sum of c⁴/df of a part's sources is u⁴/df of the part; what acts on both has no end of degrees of freedom.
    below = math.fsum(
        (weight**2 * math.fsum(row.contribution**2 for row in part.rows)) ** 2 / part.df for part, weight in weighed
    )
    shared = (replace(row, share=row.contribution**2 / total if total else 0.0) for row in rows.values())
    return Budget(total**2 / below if below > 0.0 else math.inf, tuple(shared))
