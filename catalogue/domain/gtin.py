"""Barcode numbers of shoes: GTINs of GS1, with their check digit.

References
----------
.. [1] GS1 General Specifications, section 7.9 "Check digit calculations" (section number from memory).
"""

from __future__ import annotations

import re

LENGTHS = (8, 12, 13, 14)
FULL_LENGTH = 14


def check_digit(digits: str) -> int:
    """Return the check digit of a number that is still without it.

    Parameters
    ----------
    digits : the digits before the check digit, 1 to 17 of them

    Returns
    -------
    0 to 9: what makes the sum divisible by 10, the digits weighted 3, 1, 3, … from the right

    Raises
    ------
    ValueError
        Where `digits` has anything but the digits 0 to 9.

    Examples
    --------
    >>> check_digit("400123456789")
    1
    """
    if re.fullmatch(r"[0-9]{1,17}", digits) is None:
        raise ValueError(f"digits must be 1 to 17 of 0 to 9, got {digits!r}")
    total = sum(int(digit) * (1 if place % 2 else 3) for place, digit in enumerate(reversed(digits)))
    return -total % 10


def full_gtin(text: str) -> str:
    """Return a GTIN with 14 digits, from one of 8, 12, 13 or 14 digits; spaces and hyphens between them are ignored.

    Raises
    ------
    ValueError
        With a sentence for people: no GTIN by its length or characters, or a check digit that does not fit.

    Examples
    --------
    >>> full_gtin("4 001234 567891")
    '04001234567891'
    """
    digits = re.sub(r"[\s-]", "", text)
    shown = text.strip()[:40]
    if re.fullmatch(r"[0-9]+", digits) is None or len(digits) not in LENGTHS:
        raise ValueError(f"“{shown}” is not a GTIN: it must have 8, 12, 13 or 14 digits.")
    expected = check_digit(digits[:-1])
    if int(digits[-1]) != expected:
        raise ValueError(f"“{shown}” is not a GTIN: its last digit should be {expected}. Read the barcode again.")
    return digits.zfill(FULL_LENGTH)


def short_gtin(gtin: str) -> str:
    """Return a GTIN of 14 digits as it is printed: with 8, 12, 13 or 14 digits.

    Examples
    --------
    >>> short_gtin("04001234567891")
    '4001234567891'
    """
    needed = len(gtin.lstrip("0"))
    return gtin[-next(length for length in LENGTHS if length >= needed) :]
