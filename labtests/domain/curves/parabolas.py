"""Parabolas through stretches of curves by least squares, all at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.curves.curve_set import CurveSet

# Below this share of their product the moments are equal but for rounding.
_SINGULAR = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Parabolas:
    """a + b x + c x² for each of m stretches: every array has shape (m,).

    `inverse` has the six entries of the inverse of the normal equations (upper triangle by rows), `sd` the standard
    deviation of the residuals; it is infinite where the points do not determine a parabola.
    """

    a: FloatArray
    b: FloatArray
    c: FloatArray
    inverse: tuple[FloatArray, ...]
    sd: FloatArray

    def value(self, at: FloatArray) -> FloatArray:
        return self.a + at * (self.b + at * self.c)

    def slope(self, at: FloatArray) -> FloatArray:
        return self.b + 2.0 * self.c * at

    def u(self, at: FloatArray) -> FloatArray:
        """Standard uncertainty of the value at a place."""
        i00, i01, i02, i11, i12, i22 = self.inverse
        square = at * at
        variance = i00 + 2.0 * at * i01 + square * (2.0 * i02 + i11) + 2.0 * at * square * i12 + square * square * i22
        return self.sd * np.sqrt(np.maximum(variance, 0.0))


def fit_parabolas(stretches: CurveSet) -> Parabolas:
    """Fit a parabola to each stretch.

    Parameters
    ----------
    stretches : CurveSet
        Of at least 4 points each, with positions within about -1 to 1.

    Notes
    -----
    By the normal equations in closed form: on so short a stretch nothing is lost.

    References
    ----------
    .. [1] Normal equations and the covariance of the coefficients: JCGM 100:2008 (GUM), H.3 for the line; here with
       one power more (from memory).

    Examples
    --------
    >>> x = np.linspace(-1.0, 1.0, 5)
    >>> fit = fit_parabolas(CurveSet.of([(x, 2.0 + x + 3.0 * x**2)]))
    >>> np.round([fit.a[0], fit.b[0], fit.c[0]], 9).tolist()
    [2.0, 1.0, 3.0]
    """
    x, y = stretches.position, stretches.load
    square, n = x * x, stretches.sizes.astype(np.float64)
    s1, s2, s3, s4 = (stretches.sums(power) for power in (x, square, x * square, square * square))
    t0, t1, t2 = (stretches.sums(moment) for moment in (y, x * y, square * y))
    c00, c01, c02 = s2 * s4 - s3 * s3, s2 * s3 - s1 * s4, s1 * s3 - s2 * s2
    determinant = n * c00 + s1 * c01 + s2 * c02
    is_determined = determinant > _SINGULAR * n * s2 * s4
    divisor = np.where(is_determined, determinant, 1.0)
    entries = c00, c01, c02, n * s4 - s2 * s2, s1 * s2 - n * s3, n * s2 - s1 * s1
    inverse = tuple(np.where(is_determined, entry / divisor, 1.0) for entry in entries)
    i00, i01, i02, i11, i12, i22 = inverse
    a = i00 * t0 + i01 * t1 + i02 * t2
    b = i01 * t0 + i11 * t1 + i12 * t2
    c = i02 * t0 + i12 * t1 + i22 * t2
    off = y - (stretches.on_points(a) + x * stretches.on_points(b) + square * stretches.on_points(c))
    sd = np.sqrt(stretches.sums(off * off) / (n - 3.0))
    return Parabolas(a, b, c, inverse, np.where(is_determined, sd, np.inf))
