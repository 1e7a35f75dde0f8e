"""How numbers of many digits are written for people: "9999", "10 000" with narrow no-break spaces."""

from __future__ import annotations

NARROW = "\u202f"
GROUPED_FROM = 5
"""Digits before the decimal point; a number of fewer is as easily read without spaces."""


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
