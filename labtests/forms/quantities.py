"""What studies, comparisons and wear series are made of: its values, its words, its units for readers."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from core.domain.units import Value, from_si
from core.web import display
from labtests.domain.scores.scoring import Model, stability_points


@dataclass(frozen=True, slots=True)
class Quantity:
    """A reading or score of a test. `kind` is a quantity of `core.units`, None for a score.

    `units` holds for each system the unit, its sign and the decimals shown.
    """

    key: str
    label: str
    kind: str | None
    units: dict[str, tuple[str, str, int]]

    def converted(self, value: Value, system: str) -> Value:
        """Turn SI values into the reader's unit."""
        return value if self.kind is None else from_si(value, self.units[system][0], quantity=self.kind)

    def scale(self, system: str) -> float:
        """How many of the reader's units one SI unit is."""
        return float(self.converted(1.0, system))

    def sign(self, system: str) -> str:
        return self.units[system][1]

    def axis(self, system: str) -> str:
        sign = self.sign(system)
        return f"{self.label}, {sign}" if sign else self.label

    def shown(self, value: float | None, system: str, *, more: int = 0) -> str:
        """Write an SI value in the reader's unit, with `more` decimals than usual."""
        if value is None:
            return display.MISSING
        _, sign, digits = self.units[system]
        return f"{display.number(self.converted(value, system), digits + more)}{display.NO_BREAK}{sign}".rstrip()


def _score(key: str, label: str) -> Quantity:
    return Quantity(key, label, None, {"metric": ("", "", 1), "imperial": ("", "", 1)})


TORQUE = Quantity("torque", "torque", "torque", {"metric": ("N*m", "N·m", 3), "imperial": ("in*lbf", "in·lbf", 2)})
DEFLECTION = Quantity(
    "deflection", "heel deflection", "length", {"metric": ("mm", "mm", 3), "imperial": ("in", "in", 4)}
)
STABILITY = _score("stability", "stability score")
STUDIED = {quantity.key: quantity for quantity in (TORQUE, DEFLECTION, STABILITY)}


def score_points(model: Model) -> dict[str, float]:
    """Points of stability that one SI unit of each reading of a study is worth."""
    torque, deflection = stability_points(model)
    return {TORQUE.key: torque, DEFLECTION.key: deflection, STABILITY.key: 1.0}


TORSIONAL_STIFFNESS = Quantity(
    "torsional_stiffness",
    "torsional stiffness",
    "torsional_stiffness",
    {"metric": ("N*m/deg", "N·m/°", 4), "imperial": ("in*lbf/deg", "in·lbf/°", 3)},
)
HEEL_STIFFNESS = Quantity(
    "heel_stiffness",
    "heel stiffness",
    "stiffness",
    {"metric": ("N/mm", "N/mm", 1), "imperial": ("lbf/in", "lbf/in", 0)},
)
WORN = {
    quantity.key: quantity
    for quantity in (
        STABILITY,
        TORSIONAL_STIFFNESS,
        HEEL_STIFFNESS,
        _score("midfoot", "midfoot score"),
        _score("rearfoot", "rearfoot score"),
        _score("cushioning", "cushioning score"),
    )
}


PLAIN = Quantity("value", "reading", None, {"metric": ("", "", 4), "imperial": ("", "", 4)})
"""Numbers from elsewhere, in whatever unit they are."""


def significant(value: float | None, digits: int = 4) -> str:
    """Write a number with some significant digits, zeros at its end among them, and a real minus sign.

    Examples
    --------
    >>> significant(-0.0123456)
    '−0.01235'
    >>> significant(5.5)
    '5.500'
    """
    if value is None:
        return display.MISSING
    if value == 0.0:
        return "0"
    # A zero at the end says how far the number is known; without the "#" 5.400 would be written as 5.4.
    text = f"{value:#.{digits}g}"
    if "e" in text and 1e-8 < abs(value) < 1e9:
        text = format(Decimal(text), "f")
    return text.rstrip(".").replace("-", display.MINUS)


def with_unit(text: str, unit: str) -> str:
    """Join a number and its unit; the degree of an angle without a space, every other unit with one (ISO 80000-1).

    Examples
    --------
    >>> with_unit("0.040", "°"), with_unit("0.60", "N")
    ('0.040°', '0.60\\xa0N')
    """
    return f"{text}{unit}" if unit == "°" else f"{text}{display.NO_BREAK}{unit}"


def with_interval(sd: float, low: float, high: float, unit: str) -> str:
    """Write a standard deviation with its 95 % interval, in the same unit."""
    space = display.NO_BREAK
    sign = f"{space}{unit}" if unit else ""
    return f"{significant(sd, 3)}{sign} (95{space}%: {significant(low, 3)} to {significant(high, 3)})"
