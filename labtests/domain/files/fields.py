"""Reading single written values: numbers, numbers with a unit, sizes, sides, times, codes.

Each reader takes the text and returns the value in the stored unit, or raises `FieldError` with what was expected.
The limits are those of plain sense for footwear on a bench (common practice, no source): they catch slips of the pen,
not bad shoes.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from catalogue.domain.sizes_in_files import read_system, size_in
from core.domain.figures import figure
from core.domain.quoting import quoted
from core.domain.units import UnitError, stored_unit, to_si, units_of
from labtests.domain.files.problems import FieldError

NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}", re.ASCII)
SLUG = re.compile(r"[a-z0-9][a-z0-9_-]{0,99}", re.ASCII)
USER_NAME = re.compile(r"[\w.@+-]{1,150}")
SIZE = re.compile(r"EU (\d{1,2}(?:\.\d)?)", re.ASCII)
SIDES = ("left", "right")
YEARS = (2000, 2100)
MAX_REPEAT = 999


@dataclass(frozen=True, slots=True)
class Measure:
    """A number with a unit: which quantity, and the range that makes sense in its stored unit."""

    quantity: str
    low: float
    high: float


MEASURES: dict[str, Measure] = {
    "conditioned": Measure("time", 0.0, 8760.0 * 3600.0),
    "temperature": Measure("temperature", -40.0, 80.0),
    "heel_clamp": Measure("force", 0.0, 5000.0),
    "forefoot_clamp": Measure("force", 0.0, 5000.0),
    "worn": Measure("distance", 0.0, 5000.0),
    "mass": Measure("mass", 20.0, 3000.0),
    "stack_heel": Measure("length", 0.0, 120.0),
    "stack_forefoot": Measure("length", 0.0, 120.0),
    "torque_15": Measure("torque", 0.0, 100.0),
    "deflection": Measure("length", 0.01, 100.0),
    "angle": Measure("angle", -90.0, 90.0),
    "torque": Measure("torque", -200.0, 200.0),
    "displacement": Measure("length", -200.0, 200.0),
    "force": Measure("force", -1000.0, 50000.0),
}


def read_number(text: str) -> float:
    """Read a plain decimal number; refuses nan, inf, thousands marks and decimal commas.

    Examples
    --------
    >>> read_number(" 6.82 ")
    6.82
    """
    if not NUMBER.fullmatch(text.strip()):
        raise FieldError(f"{quoted(text)} is not a number; write digits with a decimal point, such as 6.82")
    number = float(text)
    if not math.isfinite(number):
        raise FieldError(f"{quoted(text)} is too large for a number")
    return number


def read_repeat(text: str) -> int:
    """Read the number of a repeat, 1 to 999."""
    number = float(text) if NUMBER.fullmatch(text.strip()) else 0.0
    if not 1 <= number <= MAX_REPEAT or not number.is_integer():
        raise FieldError(f"{quoted(text)} is not the number of a repeat; write a whole number from 1 to {MAX_REPEAT}")
    return int(number)


def read_unit(text: str, *, quantity: str) -> str:
    """Check that a unit measures the quantity and return it."""
    unit = text.strip()
    if unit not in units_of(quantity):
        raise FieldError(f"unit {quoted(unit)} is not known for {quantity}; use {' or '.join(units_of(quantity))}")
    return unit


def read_in_unit(text: str, unit: str, *, name: str) -> float:
    """Read a number written in a known unit, convert it to the stored one and check that it makes sense."""
    measure = MEASURES[name]
    value = to_si(read_number(text), unit, quantity=measure.quantity)
    if not measure.low <= value <= measure.high:
        raise FieldError(
            f"{name} of {text.strip()} {unit} makes no sense; accepted: {figure(measure.low)} to "
            f"{figure(measure.high)} {stored_unit(measure.quantity)}"
        )
    return value


def read_measure(text: str, *, name: str) -> float:
    """Read a number followed by its unit, such as ``22.6 degC``.

    Examples
    --------
    >>> round(read_measure("100 lbf", name="heel_clamp"), 3)
    444.822
    """
    measure = MEASURES[name]
    parts = text.split()
    if len(parts) != 2:
        raise FieldError(
            f"{quoted(text)} must be a number, a space and a unit ({' or '.join(units_of(measure.quantity))})"
        )
    read_number(parts[0])
    try:
        to_si(0.0, parts[1], quantity=measure.quantity)
    except UnitError as error:
        raise FieldError(str(error)) from None
    return read_in_unit(parts[0], parts[1], name=name)


def read_size_system(text: str) -> str:
    """Read the system that the size is written in: EU, UK, US men, US women, mm."""
    try:
        return read_system(text)
    except ValueError as problem:
        raise FieldError(str(problem)) from None


def read_size(text: str, system: str = "") -> Decimal:
    """Read a size such as ``EU 42.5`` (half sizes, 15 to 55).

    Parameters
    ----------
    text : str
    system : str
        The size system that the file states, as a key of `catalogue.domain.sizes`; empty where it states none. Sizes in
        any system but EU are converted to the nearest half EU size.

    Examples
    --------
    >>> read_size("EU 42.5"), read_size("8", "uk")
    (Decimal('42.5'), Decimal('41.5'))
    """
    if system:
        return _half_size(text, system)
    match = SIZE.fullmatch(text.strip())
    size = Decimal(match[1]) if match else Decimal(0)
    if not Decimal(15) <= size <= Decimal(55) or size % Decimal("0.5"):
        raise FieldError(f"{quoted(text)} is not a size; write it as “EU 42.5”, in halves from EU 15 to EU 55")
    return size.quantize(Decimal("0.1"))


def _half_size(text: str, system: str) -> Decimal:
    try:
        size = size_in(text, system)
    except ValueError as problem:
        raise FieldError(str(problem)) from None
    if size % Decimal("0.5"):
        raise FieldError(f"{quoted(text)} is not a half size; specimens have sizes in halves, such as EU 42.5")
    return size


def read_side(text: str) -> str:
    """Read ``left`` or ``right``."""
    side = text.strip()
    if side not in SIDES:
        raise FieldError(f"{quoted(text)} is not a side; write left or right")
    return side


def read_performed(text: str) -> datetime:
    """Read an ISO 8601 date and time with its offset from UTC.

    Examples
    --------
    >>> read_performed("2026-03-04T10:15:00+00:00").isoformat()
    '2026-03-04T10:15:00+00:00'
    """
    example = "write it as 2026-03-04T10:15:00+00:00"
    try:
        performed = datetime.fromisoformat(text.strip())
    except ValueError:
        raise FieldError(f"{quoted(text)} is not an ISO 8601 date and time; {example}") from None
    if performed.tzinfo is None:
        raise FieldError(f"{quoted(text)} has no offset from UTC; {example}")
    if not YEARS[0] <= performed.year < YEARS[1]:
        raise FieldError(f"the year {performed.year} makes no sense; accepted: {YEARS[0]} to {YEARS[1] - 1}")
    return performed


def read_code(text: str) -> str:
    """Read a specimen or rig code."""
    return _match(
        CODE, text, "is not a valid code; use up to 64 letters, digits, “.”, “_” or “-”, a letter or digit first"
    )


def read_slug(text: str) -> str:
    """Read the catalogue's short name of a shoe."""
    return _match(SLUG, text, "is not a shoe’s short name; use small letters, digits and “-”, as in its page’s address")


def read_user_name(text: str) -> str:
    """Read the sign-in name of a member of staff."""
    return _match(USER_NAME, text, "is not a user name; use the name the operator signs in with")


def _match(pattern: re.Pattern[str], text: str, complaint: str) -> str:
    stripped = text.strip()
    if not pattern.fullmatch(stripped):
        raise FieldError(f"{quoted(stripped)} {complaint}")
    return stripped
