"""Formatting values for readers: rounding, signs, units, dates. Templates have these functions as filters.

Formatting in Python is several times faster than in a template, so long lists are formatted before rendering.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from types import MappingProxyType

from django.utils import timezone

from core.domain import figures, units
from core.domain.figures import grouped

MINUS = figures.MINUS
NO_BREAK = "\u00a0"
MISSING = "\u2013"
DOUBT_BELOW = 0.95
METRIC, IMPERIAL = "metric", "imperial"

Number = float | int | Decimal


@dataclass(frozen=True, slots=True)
class Style:
    """The format of one kind of measure in one system: the unit it is converted to, the unit's sign, the decimals."""

    quantity: str
    stored_unit: str
    unit: str
    sign: str
    digits: int


def _pair(quantity: str, stored: str, metric: tuple[str, str, int], imperial: tuple[str, str, int]) -> dict[str, Style]:
    return {METRIC: Style(quantity, stored, *metric), IMPERIAL: Style(quantity, stored, *imperial)}


STYLES = MappingProxyType(
    {
        "mass": _pair("mass", "g", ("g", "g", 0), ("oz", "oz", 1)),
        "body_mass": _pair("mass", "kg", ("kg", "kg", 0), ("lb", "lb", 0)),
        "length": _pair("length", "mm", ("mm", "mm", 1), ("in", "in", 2)),
        "force": _pair("force", "N", ("N", "N", 1), ("lbf", "lbf", 1)),
        "torque": _pair("torque", "N*m", ("N*m", "N·m", 2), ("in*lbf", "in·lbf", 1)),
        "energy": _pair("energy", "J", ("J", "J", 2), ("in*lbf", "in·lbf", 1)),
        "stiffness": _pair("stiffness", "N/mm", ("N/mm", "N/mm", 1), ("lbf/in", "lbf/in", 0)),
        "temperature": _pair("temperature", "degC", ("degC", "°C", 1), ("degF", "°F", 1)),
        "distance": _pair("distance", "km", ("km", "km", 0), ("mi", "mi", 0)),
    }
)


def number(value: Number | None, digits: int = 1) -> str:
    """Format a number with a fixed number of decimals and a true minus sign; a missing one is a dash.

    Examples
    --------
    >>> number(-3.06), number(120000, 0)
    ('−3.1', '120\\u202f000')
    """
    if value is None or value != value:
        return MISSING
    text = f"{value:.{digits}f}"
    if text.startswith("-"):
        text = text[1:] if not float(text) else MINUS + text[1:]
    return grouped(text)


def signed(value: Number | None, digits: int = 1) -> str:
    """Format a difference: with its sign, except for zero.

    Examples
    --------
    >>> signed(2)
    '+2.0'
    """
    text = number(value, digits)
    return f"+{text}" if is_shown_positive(text) else text


def is_shown_positive(text: str) -> bool:
    """Whether a number that was formatted is above zero as it is shown, so that it can have a plus sign.

    Examples
    --------
    >>> is_shown_positive("12\\u202f000 km"), is_shown_positive("0.0"), is_shown_positive("−1.5")
    (True, False, False)
    """
    return text[:1].isdecimal() and any(digit in text for digit in "123456789")


def percent(probability: Number | None) -> str:
    """Format a probability in whole percent; a value near 0 or 1 is never rounded to 0 % or 100 %.

    Examples
    --------
    >>> percent(0.934)
    '93\\xa0%'
    """
    if probability is None:
        return MISSING
    share = float(probability)
    text = number(share * 100, 0)
    if text == "0" and share > 0.0:
        text = f"<{NO_BREAK}1"
    elif text == "100" and share < 1.0:
        text = f">{NO_BREAK}99"
    return f"{text}{NO_BREAK}%"


def probability(estimate: float | None) -> str:
    """Format an estimated probability, which is never certain: not even where rounding has made it exactly 0 or 1.

    Examples
    --------
    >>> probability(1.0)
    '>\\xa099\\xa0%'
    """
    return percent(None if estimate is None else min(max(estimate, 1e-6), 1 - 1e-6))


def is_in_doubt(estimate: float | None) -> bool:
    """Whether a probability is worth showing: one of 95 % or more is left out, so that doubt can be seen.

    Examples
    --------
    >>> is_in_doubt(0.94), is_in_doubt(0.95), is_in_doubt(None)
    (True, False, False)
    """
    return estimate is not None and estimate < DOUBT_BELOW


def give_or_take(expanded_u: float | None) -> str:
    """Format the expanded uncertainty that follows a value, with no-break spaces so that both stay on one line.

    Examples
    --------
    >>> give_or_take(0.72)
    '\\xa0±\\xa00.7'
    """
    return "" if expanded_u is None else f"{NO_BREAK}±{NO_BREAK}{number(expanded_u)}"


def short(value: Number) -> str:
    """Format a factor with two decimals at most: "2", "2.45".

    Examples
    --------
    >>> short(2.0), short(2.446912)
    ('2', '2.45')
    """
    return number(value, 2).rstrip("0").rstrip(".")


def freedom(df: int | None) -> str:
    """Format degrees of freedom: "6 degrees of freedom"; None is unlimited.

    Examples
    --------
    >>> freedom(None)
    'unlimited degrees of freedom'
    """
    return "unlimited degrees of freedom" if df is None else count(df, "degree of freedom", "degrees of freedom")


def measure(value: Number | None, kind: str, system: str = METRIC) -> str:
    """Format a measured value in the reader's units.

    Parameters
    ----------
    value : in the unit it is stored in (g, kg for body mass, mm, N, N·m, J, N/mm, °C, km)
    kind : a key of `STYLES`
    system : "metric" or "imperial"; anything else is metric

    Examples
    --------
    >>> measure(28.349523125, "mass", "imperial")
    '1.0\\xa0oz'
    """
    if value is None:
        return MISSING
    style = STYLES[kind][IMPERIAL if system == IMPERIAL else METRIC]
    stored = units.to_si(float(value), style.stored_unit, quantity=style.quantity)
    return f"{number(units.from_si(stored, style.unit, quantity=style.quantity), style.digits)}{NO_BREAK}{style.sign}"


def size(eu: Number | None) -> str:
    """Format a shoe size: "EU 42.5"; whole sizes have no decimals."""
    return MISSING if eu is None else f"EU{NO_BREAK}{bare_size(eu)}"


@lru_cache(256)
def bare_size(eu: Number) -> str:
    """Format the number of a size: "42.5", "43". Cached, because a page repeats a few sizes thousands of times."""
    return f"{float(eu):.1f}".removesuffix(".0")


def day(value: dt.date | dt.datetime | None) -> str:
    """Format a date: "4 March 2026"."""
    if value is None:
        return MISSING
    if isinstance(value, dt.datetime):
        value = timezone.localtime(value).date() if timezone.is_aware(value) else value.date()
    return f"{value.day} {value:%B %Y}"


def moment(value: dt.datetime | None) -> str:
    """Format a date and time to the minute: "4 March 2026, 10:15"."""
    if value is None:
        return MISSING
    local = timezone.localtime(value) if timezone.is_aware(value) else value
    return f"{day(local)}, {local:%H:%M}"


def count(how_many: int, one: str, many: str = "") -> str:
    """Format a count with its noun: "1 shoe", "3 shoes"."""
    return f"{grouped(how_many)} {one if how_many == 1 else many or one + 's'}"


def dialled(phone: str) -> str:
    """Return a telephone number as a `tel:` link has it: digits, and a plus sign in front of them if it has one."""
    digits = "".join(sign for sign in phone if sign in "0123456789")
    return f"+{digits}" if phone.lstrip(" (").startswith("+") else digits


def listed(words: list[str] | tuple[str, ...], last: str = "and") -> str:
    """Join words to a list in a sentence: "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"
