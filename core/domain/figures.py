"""How numbers are written for people: "9999", "10 000" with narrow no-break spaces, "−3" with a real minus sign."""

from __future__ import annotations

import math
from decimal import Decimal

MINUS = "\u2212"
NARROW = "\u202f"
GROUPED_FROM = 5
"""Digits before the decimal point; a number of fewer is as easily read without spaces."""
WHOLE_BELOW = 1e15
"""Larger whole numbers have more digits than a float holds."""


def grouped(number: int | str) -> str:
    """Write a number with a narrow no-break space between thousands, from 10,000 up.

    Parameters
    ----------
    number : an integer, or the digits of a number with a decimal point and a sign, if it has them

    Examples
    --------
    >>> grouped(9999), grouped(1250000), grouped("−12345.6789")
    ('9999', '1\\u202f250\\u202f000', '−12\\u202f345.6789')
    """
    whole, point, decimals = str(number).partition(".")
    digits = whole.lstrip("+-\u2212")
    if len(digits) < GROUPED_FROM or not digits.isdecimal():
        return str(number)
    sign = whole[: len(whole) - len(digits)]
    return f"{sign}{f'{int(digits):,}'.replace(',', NARROW)}{point}{decimals}"


def figure(value: float, digits: int = 6, *, plus: bool = False) -> str:
    """Write a number with the digits that it has, at most `digits` significant ones, and a real minus sign.

    Parameters
    ----------
    value : a number; a whole one up to 10¹⁵ has all its digits
    digits : significant digits of any other one
    plus : whether a positive number has its sign

    Examples
    --------
    >>> figure(-1000.0), figure(22.5), figure(1234567), figure(-0.0123456, 3), figure(2.0, plus=True)
    ('−1000', '22.5', '1\\u202f234\\u202f567', '−0.0123', '+2')
    """
    if math.isfinite(value) and value == int(value) and abs(value) < WHOLE_BELOW:
        text = f"{int(value):+d}" if plus and value else f"{int(value)}"
    else:
        text = f"{value:{'+' if plus else ''}.{digits}g}"
        text = f"{Decimal(text):{'+' if plus else ''}f}" if "e" in text and 1e-8 < abs(value) < WHOLE_BELOW else text
    return grouped(text).replace("-", MINUS)
