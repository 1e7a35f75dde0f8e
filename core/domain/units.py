"""Units of measurement: exact conversion between the units people write and the units the database stores.

Each quantity is stored in one unit (SI, or the SI multiple that the column names: mm, g, km). Factors are
exact by definition: 1 lb = 0.45359237 kg, standard gravity = 9.80665 m/s², 1 in = 25.4 mm (NIST SP 811, 2008, App. B).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from core.domain.quoting import quoted

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
Value = TypeVar("Value", float, FloatArray)

LBF_N = 4.4482216152605
IN_MM = 25.4
IN_LBF_NM = 0.1129848290276167
LB_G = 453.59237
OZ_G = 28.349523125
MI_KM = 1.609344


class UnitError(ValueError):
    """An unknown quantity or unit; the message names the accepted ones."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of a quantity: stored value = (written value - zero) * factor."""

    symbol: str
    factor: float = 1.0
    zero: float = 0.0


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measurable quantity: the unit it is stored in and every unit it may be written in."""

    name: str
    stored_in: str
    units: Mapping[str, Unit]


def _quantity(name: str, *units: Unit) -> tuple[str, Quantity]:
    by_symbol = MappingProxyType({unit.symbol: unit for unit in units})
    return name, Quantity(name=name, stored_in=units[0].symbol, units=by_symbol)


QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    dict(
        (
            _quantity("force", Unit("N"), Unit("lbf", LBF_N)),
            _quantity("torque", Unit("N*m"), Unit("in*lbf", IN_LBF_NM)),
            _quantity("energy", Unit("J"), Unit("in*lbf", IN_LBF_NM)),
            _quantity("length", Unit("mm"), Unit("in", IN_MM)),
            _quantity("stiffness", Unit("N/mm"), Unit("lbf/in", LBF_N / IN_MM)),
            _quantity("torsional_stiffness", Unit("N*m/deg"), Unit("in*lbf/deg", IN_LBF_NM)),
            _quantity("temperature", Unit("degC"), Unit("degF", 5.0 / 9.0, 32.0)),
            _quantity("temperature_difference", Unit("degC"), Unit("degF", 5.0 / 9.0)),
            _quantity("mass", Unit("g"), Unit("kg", 1000.0), Unit("oz", OZ_G), Unit("lb", LB_G)),
            _quantity("time", Unit("s"), Unit("h", 3600.0)),
            _quantity("angle", Unit("deg")),
            _quantity("distance", Unit("km"), Unit("mi", MI_KM)),
        )
    )
)


def units_of(quantity: str) -> tuple[str, ...]:
    """Return the units a quantity may be written in, the stored one first.

    Examples
    --------
    >>> units_of("force")
    ('N', 'lbf')
    """
    return tuple(_find_quantity(quantity).units)


def stored_unit(quantity: str) -> str:
    """Return the unit a quantity is stored in.

    Examples
    --------
    >>> stored_unit("length")
    'mm'
    """
    return _find_quantity(quantity).stored_in


def to_si(value: Value, unit: str, *, quantity: str) -> Value:
    """Convert a written value to the unit the quantity is stored in.

    Parameters
    ----------
    value : float or array of float
        In `unit`.
    unit : str
        One of `units_of(quantity)`.
    quantity : str
        A key of `QUANTITIES`.

    Returns
    -------
    float or array of float
        In `stored_unit(quantity)`.

    Raises
    ------
    UnitError
        Unknown quantity, or a unit that does not measure it.

    References
    ----------
    .. [1] NIST Special Publication 811 (2008), Appendix B.8.

    Examples
    --------
    >>> to_si(68.0, "degF", quantity="temperature")
    20.0
    """
    known = _find_unit(unit, quantity)
    converted: Any = value if known.zero == 0.0 else value - known.zero
    return converted if known.factor == 1.0 else converted * known.factor  # type: ignore[no-any-return]


def from_si(value: Value, unit: str, *, quantity: str) -> Value:
    """Convert a stored value to the unit a reader wants. The inverse of `to_si`.

    Raises
    ------
    UnitError
        Unknown quantity, or a unit that does not measure it.

    Examples
    --------
    >>> from_si(25.0, "degF", quantity="temperature")
    77.0
    """
    known = _find_unit(unit, quantity)
    converted: Any = value if known.factor == 1.0 else value / known.factor
    return converted if known.zero == 0.0 else converted + known.zero  # type: ignore[no-any-return]


def _find_quantity(quantity: str) -> Quantity:
    try:
        return QUANTITIES[quantity]
    except KeyError:
        raise UnitError(f"quantity must be one of {', '.join(QUANTITIES)}, got {quantity!r}") from None


def _find_unit(unit: str, quantity: str) -> Unit:
    units = _find_quantity(quantity).units
    try:
        return units[unit]
    except KeyError:
        raise UnitError(f"{quantity} must be given in {' or '.join(units)}, got {quoted(unit)}") from None
