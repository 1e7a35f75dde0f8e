"""What a study that found nothing could have found: the smallest effect it would show in 8 of 10 such studies."""

from __future__ import annotations

import math

from scipy.special import fdtri, nctdtrinc, stdtrit

from labtests.domain.studies.series import check_fraction

POWER = 0.80


def shift_of_one(p: int, sd: float, *, alpha: float, power: float = POWER) -> float:
    """Smallest difference of one laboratory's mean from the others' that Mandel's h or Grubbs' G shows.

    Parameters
    ----------
    p : int
        Laboratories, ≥ 3.
    sd : float
        Standard deviation of the means of laboratories that do not differ, ≥ 0.
    alpha : float
        Level of the two-sided test of this laboratory: of Grubbs' test, which is of the farthest one, the level over p.
    power : float
        Chance that the laboratory is named.

    Returns
    -------
    float
        In the unit of `sd`.

    Notes
    -----
    h of a laboratory is beyond its critical value where the t of its mean against the others' mean and spread is beyond
    that of p - 2 degrees of freedom; power from the noncentral t on the side of the shift.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17, for the test; the rest by definition of power.

    Examples
    --------
    >>> round(shift_of_one(8, 1.0, alpha=0.05 / 8), 2)
    5.59
    """
    if p < 3:
        raise ValueError(f"p must be ≥ 3, got {p}")
    t = -float(stdtrit(p - 2, check_fraction("alpha", alpha) / 2.0))
    return sd * _noncentrality(p - 2, t, power) * math.sqrt(p / (p - 1.0))


def times_the_scatter(df: float, df_others: float, *, share: float, power: float = POWER) -> float:
    """Smallest ratio of one laboratory's standard deviation to the others' that Mandel's k or Cochran's C shows.

    Parameters
    ----------
    df, df_others : float
        Degrees of freedom of this laboratory and of all others together, > 0.
    share : float
        Critical share of this laboratory in all sums of squares, between 0 and 1: Cochran's C, or k² · df over the
        degrees of freedom of all.
    power : float
        Chance that its share is beyond that.

    Returns
    -------
    float
        ≥ 1.

    References
    ----------
    .. [1] A share beyond its critical value is an F variable beyond its own: by definition.

    Examples
    --------
    >>> round(times_the_scatter(2, 14, share=0.5157), 2)
    5.73
    """
    if min(df, df_others) <= 0.0:
        raise ValueError(f"degrees of freedom must be > 0, got {df} and {df_others}")
    share = check_fraction("share", share)
    limit = share / (1.0 - share) * df_others / df
    usual = float(fdtri(df, df_others, 1.0 - check_fraction("power", power)))
    return math.sqrt(max(1.0, limit / usual))


def component_sd(df: tuple[int, int], sd: float, times: int, *, alpha: float, power: float = POWER) -> float:
    """Smallest standard deviation of a random effect that the F test of two mean squares shows.

    Parameters
    ----------
    df : tuple of int
        Degrees of freedom of the mean square tested and of the one it is tested against, ≥ 1.
    sd : float
        Square root of the mean square tested against, ≥ 0.
    times : int
        How often the effect's variance enters the mean square tested, ≥ 1.
    alpha, power : float
        Level of the test, and chance that it shows the effect.

    Returns
    -------
    float
        In the unit of `sd`.

    References
    ----------
    .. [1] The ratio of the mean squares over 1 + times · σ²/sd² is an F variable (random effects): by definition.

    Examples
    --------
    >>> round(component_sd((2, 18), 1.0, 30, alpha=0.05), 2)
    0.7
    """
    if min(df) < 1 or times < 1:
        raise ValueError(f"df and times must be ≥ 1, got {df} and {times}")
    limit = float(fdtri(*df, 1.0 - check_fraction("alpha", alpha)))
    usual = float(fdtri(*df, 1.0 - check_fraction("power", power)))
    return sd * math.sqrt(max(0.0, limit / usual - 1.0) / times)


def slope(df: int, se: float, *, level: float, power: float = POWER) -> float:
    """Smallest slope (or other estimate with Student's t) whose interval would leave out 0.

    Parameters
    ----------
    df : int
        Degrees of freedom of the standard error, ≥ 1.
    se : float
        Standard error of the estimate, ≥ 0.
    level : float
        Of the interval.
    power : float
        Chance that it leaves out 0.

    Returns
    -------
    float
        In the unit of `se`.

    References
    ----------
    .. [1] Noncentral t, on the side of the effect: by definition of power.

    Examples
    --------
    >>> round(slope(8, 1.0, level=0.95), 2)
    3.2
    """
    if df < 1:
        raise ValueError(f"df must be ≥ 1, got {df}")
    t = -float(stdtrit(df, (1.0 - check_fraction("level", level)) / 2.0))
    return se * _noncentrality(df, t, power)


def _noncentrality(df: float, t: float, power: float) -> float:
    """Noncentrality at which Student's t is beyond `t` with the chance asked for."""
    return float(nctdtrinc(df, 1.0 - check_fraction("power", power), t))
