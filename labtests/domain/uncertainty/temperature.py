"""What a midsole that is warmer or colder than the protocol's nominal temperature does to the readings."""

from __future__ import annotations

import math
from dataclasses import dataclass

from labtests.domain.scores.evaluation import Evaluation
from labtests.domain.uncertainty.propagation import Component, Effect

PERCENT = 100.0
BOUND_PERCENT_K = 1.5
"""Upper bound of how much a midsole softens a kelvin: up to 50 % between the hot and the cold end of a quoted test of
33 K. A magazine's figure, and no more than a bound; the lab's own coefficient takes its place."""


@dataclass(frozen=True, slots=True)
class TemperatureBasis:
    """By how much each reading changes with the temperature (%/K, torque usually falling), and who says so.

    Of what was measured each is the end of the coefficient's interval that is further from 0.
    """

    torque_percent_k: float
    deflection_percent_k: float
    work_percent_k: float
    words: str

    @property
    def source(self) -> str:
        return f"midsole temperature, {self.words}"


LITERATURE = TemperatureBasis(-BOUND_PERCENT_K, BOUND_PERCENT_K, BOUND_PERCENT_K, "upper bound from the literature")


def temperature_u_k(off_k: float, u_k: float = 0.0) -> float:
    """Standard uncertainty (K) of a temperature that is off by up to `off_k`, read with the standard uncertainty `u_k`.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7: rectangular, half-width over √3.

    Examples
    --------
    >>> round(temperature_u_k(2.0), 4)
    1.1547
    """
    return math.hypot(off_k / math.sqrt(3.0), u_k)


def temperature_effect(
    evaluation: Evaluation, basis: TemperatureBasis, *, off_k: float, u_k: float
) -> tuple[Effect, ...]:
    """What the temperature leaves open in a test.

    Parameters
    ----------
    evaluation : Evaluation
        With torque, deflection and work.
    basis : TemperatureBasis
        How readings change with the temperature.
    off_k : float
        Test's temperature less the nominal one (K), any sign.
    u_k : float
        Standard uncertainty of the temperature (K).

    Returns
    -------
    tuple of Effect
        One, which acts on all three readings at once; none where nothing was read or the temperature is exact.

    Notes
    -----
    Readings are not corrected. The effect is taken as evenly spread over ± coefficient x difference, as if its sign
    were unknown, so that the difference itself is within the expanded uncertainty.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7 and F.2.4.5.

    Examples
    --------
    >>> from labtests.domain.scores.evaluation import evaluate_readings
    >>> temperature_effect(evaluate_readings([]), LITERATURE, off_k=1.0, u_k=0.1)
    ()
    """
    torque, deflection, work = evaluation.torque_15_nm, evaluation.deflection_mm, evaluation.work_j
    u = temperature_u_k(off_k, u_k)
    if torque is None or deflection is None or work is None or u == 0.0:
        return ()
    coefficients = basis.torque_percent_k, basis.deflection_percent_k, basis.work_percent_k
    by_torque, by_deflection, by_work = (
        percent / PERCENT * summary.mean
        for percent, summary in zip(coefficients, (torque, deflection, work), strict=True)
    )
    return (Effect(Component(basis.source, "B", u, "K"), (by_torque, by_deflection, by_work)),)
