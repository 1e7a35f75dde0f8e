"""The difference of two measured values and its uncertainty, with the errors that both share."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from core.domain.coverage import coverage_factor, limited

# The 80 % point of the normal distribution.
POWER_Z = 0.8416


@dataclass(frozen=True, slots=True)
class Part:
    """A source of uncertainty of one value: u ≥ 0 in the source's unit, `sensitivity` in the value's unit per that.

    `df` are the degrees of freedom of u: inf where unlimited, nan (as good as unlimited) where they were not stored.
    """

    source: str
    u: float
    sensitivity: float
    df: float = math.inf


@dataclass(frozen=True, slots=True)
class Measured:
    """A value with its budget, None where its uncertainty is not known."""

    value: float
    parts: tuple[Part, ...] | None


@dataclass(frozen=True, slots=True)
class Difference:
    """Second less first. `expanded` = k u with k by `df` (None where unlimited); `is_beyond` where it is larger.

    u and what follows from it None where it is not known.
    """

    value: float
    u: float | None
    expanded: float | None
    is_beyond: bool | None
    df: float | None = None

    @property
    def en(self) -> float | None:
        """E_n: the difference over its expanded uncertainty; None where that is not known or 0."""
        return self.value / self.expanded if self.expanded else None

    @property
    def could_find(self) -> float | None:
        """Difference that 8 of 10 such comparisons would show."""
        return None if self.u is None or self.expanded is None else self.expanded + POWER_Z * self.u


def difference(first: Measured, second: Measured, *, shared: Collection[str]) -> Difference:
    """Difference of two values, second less first.

    Parameters
    ----------
    first, second : Measured
        In the same unit.
    shared : collection of str
        Sources whose error is one and the same in both, such as a calibration of the rig that both were measured on.
        Their parts are subtracted before they are squared: such an error largely cancels.

    Returns
    -------
    Difference
        u and what follows from it None where either budget is not known.

    Raises
    ------
    ValueError
        When a part's u is below 0 or not finite.

    Notes
    -----
    A source is taken as shared only where both budgets hold it with the same u; otherwise it counts twice, on the
    safe side.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), G.4.1 equation G.2b and 5.2.2 equation 16 with r = 1 for shared sources and r = 0 for
    the others; F.1.2.3 on
       errors in common (from memory).

    Examples
    --------
    >>> one = Measured(50.0, (Part("repeats", 0.3, 1.0), Part("torque, calibration", 0.5, 1.0)))
    >>> two = Measured(52.0, (Part("repeats", 0.4, 1.0), Part("torque, calibration", 0.5, 1.0)))
    >>> difference(one, two, shared={"torque, calibration"}).u
    0.5
    """
    value = second.value - first.value
    if first.parts is None or second.parts is None:
        return Difference(value, None, None, None)
    mine, theirs = _by_source(first.parts), _by_source(second.parts)
    squares: list[tuple[float, float]] = []
    for source in mine.keys() | theirs.keys():
        one, two = mine.get(source), theirs.get(source)
        if one is not None and two is not None and source in shared and one.u == two.u:
            squares.append((((two.sensitivity - one.sensitivity) * one.u) ** 2, one.df))
        else:
            squares += [((part.sensitivity * part.u) ** 2, part.df) for part in (one, two) if part is not None]
    variance = math.fsum(square for square, _ in squares)
    below = math.fsum(square**2 / df for square, df in squares if not math.isnan(df))
    df = limited(variance**2 / below) if below > 0.0 else None
    u = math.sqrt(variance)
    spread = coverage_factor(df) * u
    return Difference(value, u, spread, abs(value) > spread, df)


def _by_source(parts: Sequence[Part]) -> dict[str, Part]:
    for part in parts:
        if not (part.u >= 0.0 and math.isfinite(part.u)):
            raise ValueError(f"u of {part.source} must be ≥ 0 and finite, got {part.u}")
    return {part.source: part for part in parts}
