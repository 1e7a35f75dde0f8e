"""How far half of force times deflection is off as an estimate of the work, by the shape of other shoes' curves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from labtests.domain.curves.curves import MJ_PER_J, TARGET_FORCE_N
from labtests.domain.uncertainty.propagation import Component, Effect

LEAST_SHOES = 5
# A straight spring gives back a half; between a curve that stays soft long and one that is stiff at once.
ASSUMED_SHARE, ASSUMED_HALF_WIDTH = 0.5, 0.1


@dataclass(frozen=True, slots=True)
class WorkShape:
    """Work over force times deflection, between 0 and 1, of a shoe that was not measured; u is that of a single shoe.

    The estimate itself is the half, by the definition of the scores, whatever the shape.

    `shoes` is how many shoes it was fitted on; 0 where it is assumed.
    """

    share: float
    u: float
    df: float
    shoes: int

    def effect(self, deflection_mm: float, force_n: float = TARGET_FORCE_N) -> Effect:
        """What the half leaves open in the work: how shoes differ, and how far off the half is on average."""
        basis = f"fitted on {self.shoes} shoes" if self.shoes else "assumed 0.4 to 0.6"
        component = Component(
            f"work, shape of the curve {basis}", "B", math.hypot(self.u, self.share - ASSUMED_SHARE), "1", df=self.df
        )
        return Effect(component, (0.0, 0.0, force_n * deflection_mm / MJ_PER_J))


ASSUMED = WorkShape(ASSUMED_SHARE, ASSUMED_HALF_WIDTH / math.sqrt(3.0), math.inf, 0)


def fit_shape(shares: Sequence[float]) -> WorkShape:
    """Fit the shape on shoes of which curves exist.

    Parameters
    ----------
    shares : sequence of float
        Work over force times deflection of each shoe, one figure a shoe, finite and > 0.

    Returns
    -------
    WorkShape
        The mean, and u of another shoe: s √(1 + 1/n) with n - 1 degrees of freedom. Below 5 shoes, or where they do
        not differ at all, what is assumed: 0.5, evenly spread over 0.4 to 0.6.

    References
    ----------
    .. [1] Prediction of a single observation: NIST/SEMATECH e-Handbook of Statistical Methods, 4.5.1.2 (from memory).
       The assumed interval is ours.

    Examples
    --------
    >>> fit_shape([0.40, 0.42, 0.44, 0.46, 0.48]).share
    0.44
    >>> fit_shape([0.40, 0.42]) is ASSUMED
    True
    """
    if any(not (math.isfinite(share) and share > 0.0) for share in shares):
        raise ValueError("shares must be finite and > 0")
    n = len(shares)
    if n < LEAST_SHOES:
        return ASSUMED
    sd = float(np.std(shares, ddof=1))
    if sd == 0.0:
        return ASSUMED
    return WorkShape(round(float(np.mean(shares)), 12), sd * math.sqrt(1.0 + 1.0 / n), n - 1.0, n)
