"""What a day and a set-up add to a test beyond its repeats: from check shoes, gauge studies and retested specimens."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.scores.scoring import Model
from labtests.domain.studies.gauge import gauge_study
from labtests.domain.uncertainty.reading_squares import by_model, points_per_unit, squares_of_scatter
from labtests.domain.uncertainty.scatter import Scatter, scatter_of

SETUPS_WANTED = 5
"""Fewer degrees of freedom say nothing of a rig's days; common practice, no source."""

# Products of readings follow from their sums only where every component is worked out in the same way.
NEVER_POOLED = 0.999999
# Readings that differ by less are all the same.
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class StudyReadings:
    """Tests of a crossed study: specimen and operator of each, and torque, deflection and work, shape (n, 3)."""

    specimens: tuple[str, ...]
    operators: tuple[str, ...]
    readings: FloatArray


def excess(
    covariance: FloatArray, df: float, explained: FloatArray, *, model: Model, origin: str, link: str = ""
) -> Scatter | None:
    """What a covariance of whole tests has beyond what explains it.

    Parameters
    ----------
    covariance : array, shape (3, 3)
        Mean squares and products of torque (N·m), deflection (mm) and work (J) of tests about their mean.
    df : float
        Behind them, > 0.
    explained : array, shape (3, 3)
        The part that is known otherwise, such as what repeats leave in a test.
    model : Model
        Whose stability the degrees of freedom of the excess are worked out for.

    Returns
    -------
    Scatter or None
        Variances below 0 count as 0; None where all three do.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4.
    .. [2] Satterthwaite F. E., Biometrics Bulletin 2 (1946) 110.

    Examples
    --------
    >>> from labtests.domain.scores.scoring import S1
    >>> found = excess(np.diag([4.0, 1.0, 1.0]), 10.0, np.diag([1.0, 2.0, 0.5]), model=S1, origin="days")
    >>> found.torque_nm2, found.deflection_mm2, found.work_j2
    (3.0, 0.0, 0.5)
    """
    raw = np.asarray(covariance - explained, dtype=np.float64)
    variances = np.maximum(np.diag(raw), 0.0)
    if not variances.any():
        return None
    most = np.sqrt(np.outer(variances, variances))
    possible = np.clip(raw, -most, most)
    np.fill_diagonal(possible, variances)
    weights = by_model(model)["stability"]
    ours, whole = (float(weights @ squares_of_scatter(scatter_of(each, df, origin))) for each in (possible, covariance))
    # The smaller the part that is left, the less is known of it.
    share = min(1.0, max(ours, 0.0) / whole) if whole > 0.0 else 1.0
    return scatter_of(possible, max(1.0, df * share**2), origin, link)


def excess_of_study(study: StudyReadings, repeats: FloatArray, *, model: Model, link: str) -> Scatter | None:
    """Operators, their differences by specimen, and set-ups, from a crossed gauge study.

    Parameters
    ----------
    study : StudyReadings
        Balanced: every operator tested every specimen equally often, at least twice.
    repeats : array, shape (3, 3)
        What repeats leave in a test.

    Returns
    -------
    Scatter or None
        None where the study can't be analysed or shows no more than repeats explain.

    Notes
    -----
    The products of readings follow from the components of their sums.

    References
    ----------
    .. [1] As `labtests.domain.studies.gauge.gauge_study`.
    """
    try:
        covariance = np.array([[_product(study, one, two) for two in range(3)] for one in range(3)])
    except ValueError:
        return None
    torque, deflection, _ = points_per_unit(model)
    stability = study.readings @ np.array([model.weight_midfoot * torque, model.weight_rearfoot * deflection, 0.0])
    df = _gauge_df(study, stability)
    return excess(covariance, df, repeats, model=model, origin="set-up and operator, gauge study", link=link)


def _product(study: StudyReadings, one: int, two: int) -> float:
    if one == two:
        return _gauge_variance(study, study.readings[:, one])
    first, second = study.readings[:, one], study.readings[:, two]
    plus, minus = (_gauge_variance(study, first + sign * second) for sign in (1.0, -1.0))
    return (plus - minus) / 4.0


def _gauge_variance(study: StudyReadings, values: FloatArray) -> float:
    if np.ptp(values) <= ROUNDING * np.abs(values).max():
        return 0.0
    found = gauge_study(study.specimens, study.operators, values, alpha=NEVER_POOLED)
    parts = (found.repeatability, found.operator, found.interaction)
    return sum(part.raw for part in parts if part is not None)


def _gauge_df(study: StudyReadings, values: FloatArray) -> float:
    """Satterthwaite's degrees of freedom of the bench's variance: few operators leave few."""
    found = gauge_study(study.specimens, study.operators, values, alpha=NEVER_POOLED)
    _, operator, *rest = found.anova[:-1]
    times = found.parts * found.trials
    shares = [1.0 / found.trials - 1.0 / times, 1.0 - 1.0 / found.trials] if len(rest) > 1 else [1.0 - 1.0 / times]
    parts = [(operator.mean_square / times, operator.df)]
    parts += [(share * row.mean_square, row.df) for share, row in zip(shares, rest, strict=True)]
    return sum(value for value, _ in parts) ** 2 / sum(value**2 / df for value, df in parts)
