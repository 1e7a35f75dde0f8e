"""How alike two measured shoes are, and what differs between them beyond what the measurements can tell.

Six features can be compared: the four scores, the mass and the drop. Each difference is divided by how far shoes of the
catalogue lie apart in that feature and by how well the two are known, so that no feature leads because of its unit.
Which features count is the caller's choice: readers see shoes ranked by the four that were measured, and may have the
stated ones weighed too.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.domain.coverage import coverage_factor, limited, whole_df

FEATURES = ("stability", "midfoot", "rearfoot", "cushioning", "mass_g", "drop_mm")
MEASURED = FEATURES[:4]
"""What the bench measures; the others are what the maker states, without an uncertainty."""

Floats = NDArray[np.float64]
Verdict = Literal["same", "within", "beyond", "unknown", "missing"]


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A near shoe: its row in the table, its distance, and how many features were compared."""

    index: int
    distance: float
    features: int


@dataclass(frozen=True, slots=True)
class Nearest:
    """The nearest shoes, nearest first, and how many can be compared at all."""

    neighbours: tuple[Neighbour, ...]
    comparable: int


@dataclass(frozen=True, slots=True)
class Difference:
    """One feature of two shoes.

    `difference` is there − here; `expanded_u` is its expanded uncertainty, k u with k by `df` (None where unlimited);
    `share` is the part of the squared distance that this feature makes, 0 to 1, None where it does not count in the
    distance. The verdict is "same" (no difference),
    "within" the uncertainty, "beyond" it, "unknown" where the uncertainty of either is not known, "missing" where a
    value is.
    """

    feature: str
    here: float | None
    there: float | None
    difference: float | None
    expanded_u: float | None
    share: float | None
    verdict: Verdict
    df: float | None = None

    @property
    def coverage_factor(self) -> float | None:
        return None if self.expanded_u is None else coverage_factor(self.df)

    @property
    def degrees_of_freedom(self) -> int | None:
        return None if self.expanded_u is None else whole_df(self.df)


def _check(values: Floats, u: Floats) -> None:
    if values.ndim != 2 or values.shape[1] != len(FEATURES):
        raise ValueError(f"values must have shape (n, {len(FEATURES)}), got {values.shape}")
    if u.shape != values.shape:
        raise ValueError(f"u must have the shape of values, {values.shape}, got {u.shape}")
    if np.isinf(values).any() or np.isinf(u).any():
        raise ValueError("values and u must be finite or nan, got inf")
    if (u < 0).any():
        raise ValueError(f"u must be >= 0, got {np.nanmin(u)}")


def spreads(values: ArrayLike) -> Floats:
    """Return how far shoes lie apart in each feature: the sample standard deviation.

    Parameters
    ----------
    values : array_like, shape (n, 6)
        In the order of `FEATURES`, nan where not measured.

    Returns
    -------
    ndarray, shape (6,)
        In each feature's unit; 0 where fewer than two shoes have a value.

    Examples
    --------
    >>> spreads([[40, 50, 30, 60, 280, 8], [60, 70, 50, 60, 300, float("nan")]]).round(3).tolist()
    [14.142, 14.142, 14.142, 0.0, 14.142, 0.0]
    """
    table = np.asarray(values, dtype=np.float64)
    known = (~np.isnan(table)).sum(axis=0)
    means = np.where(known > 0, np.nansum(table, axis=0) / np.maximum(known, 1), 0.0)
    squares = np.nansum((table - means) ** 2, axis=0)
    spread: Floats = np.sqrt(squares / np.maximum(known - 1, 1))
    return spread


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """A catalogue made ready to be asked about many shoes: what does not depend on the shoe asked about.

    `values`, `u` and `df` have shape (n, 6); the rest is feature by feature, shape (6, n): values, and s² + u². A
    feature is `whole` where every shoe has it and the scale can't be 0.
    """

    values: Floats
    u: Floats
    by_feature: Floats
    scale: Floats
    whole: tuple[bool, ...]
    df: Floats

    def _u_squared(self, index: int) -> Floats:
        known: Floats = np.nan_to_num(self.u[index], nan=0.0) ** 2
        return known

    def _compared(self, index: int, over: Collection[str]) -> tuple[Floats, NDArray[np.int8]]:
        """Return for every row the sum of squared, scaled differences, and over how many features it runs."""
        count = self.by_feature.shape[1]
        total, features = np.zeros(count), np.zeros(count, dtype=np.int8)
        for feature, values, scale, is_whole, u_squared in zip(
            FEATURES, self.by_feature, self.scale, self.whole, self._u_squared(index), strict=True
        ):
            if feature not in over:
                continue
            with np.errstate(divide="ignore", invalid="ignore"):
                part = np.square(values - values[index]) / (scale + u_squared)
            if is_whole:
                total += part
                features += 1
            else:
                is_known = ~np.isnan(part)
                np.add(total, part, out=total, where=is_known)
                features += is_known
        return total, features

    def distances(self, index: int, over: Collection[str] = FEATURES) -> Floats:
        """Return the distance of every shoe from one row, shape (n,).

        Parameters
        ----------
        index : int
            The row to measure from.
        over : collection of str
            The features that count.

        Returns
        -------
        ndarray, shape (n,)
            Root mean square over the features that both shoes have of difference / √(s² + u₁² + u₂²), s the spread of
            the catalogue. Dimensionless; 1 means "as far apart as shoes usually are". nan where nothing can be
            compared.

        Notes
        -----
        Without uncertainties this is the standardized Euclidean distance divided by √(number of features); the mean
        instead of the sum keeps a shoe with a missing value comparable. Dividing by the uncertainty too is our own.

        Examples
        --------
        >>> table = [[40, 50, 30, 60, 280, 8], [60, 70, 50, 60, 300, 8]]
        >>> prepare(table, [[float("nan")] * 6] * 2).distances(0).round(4).tolist()
        [0.0, 1.4142]
        """
        total, features = self._compared(index, over)
        with np.errstate(invalid="ignore", divide="ignore"):
            result: Floats = np.sqrt(total / features)
        return result

    def nearest(
        self,
        index: int,
        count: int | None = None,
        among: NDArray[np.bool_] | None = None,
        over: Collection[str] = FEATURES,
    ) -> Nearest:
        """Return the nearest other shoes, nearest first; equally near ones in the order of the table.

        `count` is how many at most (None: all that can be compared), `among` says for every row whether it may be one
        of them, and `over` are the features that count.
        """
        total, features = self._compared(index, over)
        with np.errstate(invalid="ignore", divide="ignore"):
            far = np.sqrt(total / features)
        far[index] = np.nan
        if among is not None:
            far[~among] = np.nan
        comparable = int(np.count_nonzero(~np.isnan(far)))
        wanted = comparable if count is None else min(count, comparable)
        if not wanted:
            return Nearest((), comparable)
        # Every row as near as the last one wanted, so that ties are settled by the order of the table.
        rows = np.flatnonzero(far <= np.partition(far, wanted - 1)[wanted - 1])
        chosen = rows[np.argsort(far[rows], kind="stable")][:wanted]
        return Nearest(tuple(Neighbour(int(row), float(far[row]), int(features[row])) for row in chosen), comparable)

    def explain(self, here: int, there: int, over: Collection[str] = FEATURES) -> tuple[Difference, ...]:
        """Compare two rows feature by feature, in the order of `FEATURES`.

        `over` are the features that count in the distance; the others are given too, without a share of it.
        """
        with np.errstate(divide="ignore", invalid="ignore"):
            gaps = np.square(self.values[there] - self.values[here])
            parts = gaps / (self.scale[:, there] + self._u_squared(here))
        parts[[feature not in over for feature in FEATURES]] = np.nan
        total = float(np.nansum(parts))
        found = []
        for column, feature in enumerate(FEATURES):
            first, second = _number(self.values[here, column]), _number(self.values[there, column])
            difference = None if first is None or second is None else second - first
            pair = [(_number(self.u[row, column]), _number(self.df[row, column])) for row in (here, there)]
            (u_here, df_here), (u_there, df_there) = pair
            df = difference_df(u_here, u_there, df_here, df_there)
            expanded = difference_u(u_here, u_there, df)
            part = _number(parts[column])
            share = None if part is None else (part / total if total else 0.0)
            is_beyond = verdict(difference, expanded)
            found.append(Difference(feature, first, second, difference, expanded, share, is_beyond, df))
        return tuple(found)


def prepare(values: ArrayLike, u: ArrayLike, df: ArrayLike | None = None) -> Prepared:
    """Make a catalogue ready to be asked about many shoes.

    Parameters
    ----------
    values, u : array_like, shape (n, 6)
        As for `distances`.
    df : array_like, shape (n, 6), or None
        Effective degrees of freedom of u, nan where unlimited; None where all are.

    Raises
    ------
    ValueError
        Wrong shape, an infinite value, a negative uncertainty.

    Examples
    --------
    >>> table = prepare([[40, 50, 30, 60, 280, 8], [60, 70, 50, 60, 300, 8]], [[1.0] * 6] * 2)
    >>> table.nearest(0).neighbours[0].index
    1
    """
    table, known = np.asarray(values, dtype=np.float64), np.asarray(u, dtype=np.float64)
    _check(table, known)
    by_feature = np.ascontiguousarray(table.T)
    spread = spreads(table)
    scale = spread[:, np.newaxis] ** 2 + np.ascontiguousarray(np.nan_to_num(known, nan=0.0).T) ** 2
    whole = tuple(bool(s > 0) and not bool(np.isnan(row).any()) for s, row in zip(spread, by_feature, strict=True))
    dfs = np.full(table.shape, np.nan) if df is None else np.asarray(df, dtype=np.float64)
    return Prepared(table, known, by_feature, scale, whole, dfs)


def difference_u(u_here: float | None, u_there: float | None, df: float | None = None) -> float | None:
    """Return the expanded uncertainty of the difference of two independent values; None where one is unknown.

    Parameters
    ----------
    u_here, u_there : float or None
        Standard uncertainties.
    df : float or None
        Effective degrees of freedom of both together (`difference_df`); None where unlimited.

    Examples
    --------
    >>> difference_u(3.0, 4.0)
    10.0
    """
    if u_here is None or u_there is None:
        return None
    return coverage_factor(df) * math.hypot(u_here, u_there)


def difference_df(
    u_here: float | None, u_there: float | None, df_here: float | None, df_there: float | None
) -> float | None:
    """Return the effective degrees of freedom of a difference; None where unlimited or an uncertainty is unknown.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), G.4.1 equation G.2b (Welch-Satterthwaite).

    Examples
    --------
    >>> difference_df(1.0, 1.0, 4.0, 4.0), difference_df(1.0, 1.0, None, None)
    (8.0, None)
    """
    if u_here is None or u_there is None:
        return None
    below = sum(u**4 / df for u, df in ((u_here, df_here), (u_there, df_there)) if df is not None)
    return limited((u_here**2 + u_there**2) ** 2 / below) if below > 0.0 else None


def verdict(difference: float | None, expanded_u: float | None) -> Verdict:
    """Say what a difference amounts to: it is "within" where |difference| ≤ its expanded uncertainty.

    Notes
    -----
    The criterion of the E_n number, |E_n| ≤ 1.

    References
    ----------
    .. [1] ISO 13528, E_n scores; NIST Dataplot reference manual, "ISO 13528 EN SCORE".

    Examples
    --------
    >>> verdict(2.0, 2.5), verdict(-3.0, 2.5)
    ('within', 'beyond')
    """
    if difference is None:
        return "missing"
    if difference == 0:
        return "same"
    if expanded_u is None:
        return "unknown"
    return "within" if abs(difference) <= expanded_u else "beyond"


def _number(value: float) -> float | None:
    return None if math.isnan(value) else float(value)
