"""Precision of a method between laboratories (or rigs): repeatability and reproducibility after ISO 5725-2."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.special import betaincinv, stdtrit

from core.domain.units import FloatArray
from labtests.domain.studies.detectable import shift_of_one, times_the_scatter
from labtests.domain.studies.series import Series, check_fraction, finite_series
from labtests.domain.studies.variance import LEVEL, Interval, MeanSquare, between_sd_interval, sd_interval

LIMIT_FACTOR = 2.8
"""1.96 √2, as ISO 5725 rounds it: the difference of two results stays within it in 95 % of cases."""
STRAGGLER_ALPHA = 0.05
OUTLIER_ALPHA = 0.01


class Verdict(StrEnum):
    """ISO 5725-2: beyond the 5 % value a straggler, beyond the 1 % value an outlier."""

    NOTHING = "nothing found"
    STRAGGLER = "straggler"
    OUTLIER = "outlier"


@dataclass(frozen=True, slots=True)
class Consistency:
    """A statistic of one laboratory against its critical values at 5 % and 1 %.

    `could_find` is the smallest effect that 8 of 10 such studies would name at 5 %: of h and G a difference of the mean
    from the others', in the unit of the results; of k and C a ratio of standard deviations.
    """

    lab: str
    statistic: float
    critical_5: float
    critical_1: float
    verdict: Verdict
    could_find: float


@dataclass(frozen=True, slots=True)
class LabResult:
    """One laboratory: n, mean, standard deviation (None for n = 1), Mandel's h and k (None where undefined)."""

    lab: str
    n: int
    mean: float
    sd: float | None
    h: Consistency | None
    k: Consistency | None


@dataclass(frozen=True, slots=True)
class Precision:
    """Precision at one level, in the unit of the results.

    `repeatability_sd` is the standard's s_r, `between_sd` its s_L (0 where the raw variance is negative),
    `reproducibility_sd` its s_R; the limits are 2.8 times s_r and s_R.
    """

    labs: tuple[LabResult, ...]
    n: int
    mean: float
    n_bar: float
    repeatability_sd: float
    between_variance_raw: float
    between_sd: float
    reproducibility_sd: float
    repeatability_interval: Interval
    between_interval: Interval
    reproducibility_interval: Interval
    repeatability_limit: float
    reproducibility_limit: float
    cochran: Consistency | None
    grubbs: Consistency | None


def precision(results: Mapping[str, Series], *, level: float = LEVEL) -> Precision:
    """Repeatability and reproducibility of one level (one material, shoe or specimen) tested by several laboratories.

    Parameters
    ----------
    results : mapping of laboratory to sequence of float
        p ≥ 2 laboratories with n ≥ 1 results each, unequal numbers accepted; at least one laboratory with two.
    level : float
        Of the intervals of s_r, s_L and s_R.

    Returns
    -------
    Precision
        In the unit of the results.

    Raises
    ------
    ValueError
        For fewer than two laboratories, no repeated result, or results that are not finite.

    Notes
    -----
    Nothing is removed: outliers are named, and to drop one is a person's decision with a reason. h is taken about the
    plain mean of the laboratories' means and k against the pooled s_r with each laboratory's own degrees of freedom,
    which for equal n is what the standard has. Cochran's test takes the commonest n where numbers differ; Grubbs' needs
    three laboratories. Intervals are by modified large sample, with the mean n where numbers differ: of few
    laboratories that of s_R is wide, because their means say little about all laboratories.

    References
    ----------
    .. [1] ISO 5725-2:1994, 7.3 and 7.4 (from memory); 2.8 in ISO 5725-6 (seen in a public page).

    Examples
    --------
    >>> found = precision({"A": [4.0, 6.0], "B": [8.0, 10.0]})
    >>> round(found.repeatability_sd, 3), round(found.between_sd, 3), round(found.reproducibility_sd, 3)
    (1.414, 2.646, 3.0)
    """
    rows = _rows(results)
    counts = np.array([len(row) for row in rows.values()], dtype=np.float64)
    means = np.array([row.mean() for row in rows.values()])
    squares = np.array([float(np.sum((row - row.mean()) ** 2)) for row in rows.values()])
    n, df = float(counts.sum()), float((counts - 1.0).sum())
    mean = float(np.sum(counts * means) / n)
    between_df = len(rows) - 1.0
    s_r2 = float(squares.sum()) / df
    s_d2 = float(np.sum(counts * (means - mean) ** 2)) / between_df
    n_bar = (n - float(np.sum(counts**2)) / n) / between_df
    s_l2 = (s_d2 - s_r2) / n_bar
    within, between = MeanSquare(1.0 - 1.0 / n_bar, s_r2, df), MeanSquare(1.0 / n_bar, s_d2, between_df)
    alone = MeanSquare(1.0, s_r2, df)
    s_r, s_reproducibility = math.sqrt(s_r2), math.sqrt(s_r2 + max(0.0, s_l2))
    repeat = sd_interval([alone], level=level)
    labs = _lab_results(list(rows), counts, means, squares)
    return Precision(
        labs=labs,
        n=int(n),
        mean=mean,
        n_bar=n_bar,
        repeatability_sd=s_r,
        between_variance_raw=s_l2,
        between_sd=math.sqrt(max(0.0, s_l2)),
        reproducibility_sd=s_reproducibility,
        repeatability_interval=repeat,
        between_interval=between_sd_interval(between, alone, level=level),
        reproducibility_interval=_reaching(sd_interval([within, between], level=level), repeat.high),
        repeatability_limit=LIMIT_FACTOR * s_r,
        reproducibility_limit=LIMIT_FACTOR * s_reproducibility,
        cochran=_cochran(labs),
        grubbs=_grubbs(labs),
    )


def mandel_h_critical(p: int, alpha: float) -> float:
    """Two-sided critical value of |h| of one of p laboratories.

    References
    ----------
    .. [1] Wilrich P.-T., Advances in Statistical Analysis 97 (2013) 1 (exact formula from memory); its values are
       those of ISO 5725-2:1994, table 6.

    Examples
    --------
    >>> round(mandel_h_critical(8, 0.01), 2)
    2.06
    """
    _at_least_three(p)
    t = -float(stdtrit(p - 2, check_fraction("alpha", alpha) / 2.0))
    return (p - 1) * t / math.sqrt(p * (p - 2 + t**2))


def mandel_k_critical(df: float, df_all: float, alpha: float) -> float:
    """Critical value of k of a laboratory with `df` of the `df_all` degrees of freedom within laboratories.

    References
    ----------
    .. [1] As `mandel_h_critical`: k² df / df_all is a beta variable; the standard's table agrees within 0.01.

    Examples
    --------
    >>> round(mandel_k_critical(2, 16, 0.01), 2)
    1.96
    """
    if not 0.0 < df < df_all:
        raise ValueError(f"df must be > 0 and < {df_all}, got {df}")
    share = float(betaincinv(df / 2.0, (df_all - df) / 2.0, 1.0 - check_fraction("alpha", alpha)))
    return math.sqrt(share * df_all / df)


def cochran_critical(p: int, n: int, alpha: float) -> float:
    """Critical value of Cochran's C: the largest of p variances of n results each, over their sum.

    References
    ----------
    .. [1] Cochran W. G., Annals of Eugenics 11 (1941) 47: by Bonferroni, an F (here beta) quantile at α/p; formula and
       table of values seen in public pages.

    Examples
    --------
    >>> round(cochran_critical(8, 3, 0.05), 3)
    0.516
    """
    if p < 2 or n < 2:
        raise ValueError(f"p and n must be ≥ 2, got {p} and {n}")
    df = (n - 1) / 2.0
    return float(betaincinv(df, (p - 1) * df, 1.0 - check_fraction("alpha", alpha) / p))


def grubbs_critical(p: int, alpha: float) -> float:
    """Two-sided critical value of Grubbs' G for one outlying value among p.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17: t at α/(2p) with p - 2 degrees of freedom.

    Examples
    --------
    >>> round(grubbs_critical(8, 0.05), 3)
    2.127
    """
    _at_least_three(p)
    t = -float(stdtrit(p - 2, check_fraction("alpha", alpha) / (2.0 * p)))
    return (p - 1) / math.sqrt(p) * math.sqrt(t**2 / (p - 2 + t**2))


def _reaching(found: Interval, at_least: float) -> Interval:
    """The interval of s_R, whose upper limit can't be below that of s_r, which is a part of it."""
    return Interval(found.low, max(found.high, at_least), found.level)


def _rows(results: Mapping[str, Series]) -> dict[str, FloatArray]:
    rows = {lab: finite_series(f"results of {lab}", values) for lab, values in results.items()}
    if len(rows) < 2:
        raise ValueError(f"laboratories must be ≥ 2, got {len(rows)}")
    if all(len(row) == 1 for row in rows.values()):
        raise ValueError("at least one laboratory must have ≥ 2 results, got 1 from each")
    return rows


def _at_least_three(p: int) -> None:
    if p < 3:
        raise ValueError(f"p must be ≥ 3, got {p}")


def _lab_results(names: list[str], counts: FloatArray, means: FloatArray, squares: FloatArray) -> tuple[LabResult, ...]:
    df_all = float((counts - 1.0).sum())
    # Rounding alone makes equal results differ in their last digit; that is no spread to divide by.
    noise = 8.0 * float(np.finfo(np.float64).eps * np.abs(means).max())
    s_r = math.sqrt(float(squares.sum()) / df_all)
    centre, spread = float(means.mean()), float(means.std(ddof=1))
    found = []
    for lab, n, mean, square in zip(names, counts.tolist(), means.tolist(), squares.tolist(), strict=True):
        sd = math.sqrt(square / (n - 1.0)) if n > 1.0 else None
        h = k = None
        if len(names) > 2 and spread > noise:
            critical = [mandel_h_critical(len(names), a) for a in _ALPHAS]
            could_find = shift_of_one(len(names), spread, alpha=STRAGGLER_ALPHA)
            h = _judged(lab, (mean - centre) / spread, critical, could_find)
        if sd is not None and s_r > noise and n - 1.0 < df_all:
            critical = [mandel_k_critical(n - 1.0, df_all, a) for a in _ALPHAS]
            share = critical[0] ** 2 * (n - 1.0) / df_all
            k = _judged(lab, sd / s_r, critical, times_the_scatter(n - 1.0, df_all - n + 1.0, share=share))
        found.append(LabResult(lab, int(n), mean, sd, h, k))
    return tuple(found)


_ALPHAS = (STRAGGLER_ALPHA, OUTLIER_ALPHA)


def _judged(lab: str, statistic: float, critical: Sequence[float], could_find: float) -> Consistency:
    critical_5, critical_1 = critical
    verdict = Verdict.NOTHING
    if abs(statistic) > critical_5:
        verdict = Verdict.OUTLIER if abs(statistic) > critical_1 else Verdict.STRAGGLER
    return Consistency(lab, statistic, critical_5, critical_1, verdict, could_find)


def _cochran(labs: tuple[LabResult, ...]) -> Consistency | None:
    # k is there where there are two variances to compare, and some scatter.
    repeated = [(lab, lab.sd**2) for lab in labs if lab.sd is not None and lab.k is not None]
    if not repeated:
        return None
    worst, variance = max(repeated, key=lambda pair: pair[1])
    total = sum(each for _, each in repeated)
    n = Counter(lab.n for lab, _ in repeated).most_common(1)[0][0]
    p = len(repeated)
    critical = [cochran_critical(p, n, a) for a in _ALPHAS]
    could_find = times_the_scatter(n - 1.0, (p - 1.0) * (n - 1.0), share=critical[0])
    return _judged(worst.lab, variance / total, critical, could_find)


def _grubbs(labs: tuple[LabResult, ...]) -> Consistency | None:
    """The farthest mean; its G is its |h|."""
    by_h = [lab.h for lab in labs if lab.h is not None]
    if not by_h:
        return None
    worst = max(by_h, key=lambda h: abs(h.statistic))
    p = len(labs)
    could_find = shift_of_one(p, float(np.std([lab.mean for lab in labs], ddof=1)), alpha=STRAGGLER_ALPHA / p)
    return _judged(worst.lab, abs(worst.statistic), [grubbs_critical(p, a) for a in _ALPHAS], could_find)
