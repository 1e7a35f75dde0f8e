"""Many written numbers at once: plain decimals such as 6.82 or -0.5, with commas between them."""

from __future__ import annotations

import numpy as np

from core.units import FloatArray

ZERO, COMMA, DOT, MINUS = b"0,.-"
# Whole numbers of so many digits and powers of ten up to there are exact as floats, so that one division rounds once
# and gives the very float that the written number is nearest to.
MAX_DIGITS = 15
POWERS = 10.0 ** np.arange(MAX_DIGITS + 1)


def read_decimals(text: bytes) -> FloatArray | None:
    """Read plain decimals.

    Parameters
    ----------
    text : bytes
        Numbers of up to 15 digits with at most one point and a minus before them, commas between.

    Returns
    -------
    array, shape (n,), or None
        The same floats as ``float`` gives for each; None where one of them is written otherwise.

    Examples
    --------
    >>> read_decimals(b"6.82,-.5,3").tolist()
    [6.82, -0.5, 3.0]
    >>> read_decimals(b"6.82,1e3") is None
    True
    """
    raw = np.frombuffer(text, np.uint8)
    digits = raw - ZERO  # other characters become 10 or more, in eight bits
    is_digit = digits < 10
    digits_before = np.concatenate(([0], np.cumsum(is_digit)))
    commas, points = np.flatnonzero(raw == COMMA), np.flatnonzero(raw == DOT)
    starts, ends = np.concatenate(([0], commas + 1)), np.concatenate((commas, [raw.size]))
    first, last = digits_before[starts], digits_before[ends]
    widths = last - first
    if widths.min() < 1 or widths.max() > MAX_DIGITS:
        return None
    is_negative = raw[starts] == MINUS
    owners = np.searchsorted(ends, points)
    # Every character is told for, and no number has two points.
    known = int(last[-1]) + points.size + commas.size + np.count_nonzero(is_negative)
    if known != raw.size or (owners[1:] == owners[:-1]).any():
        return None
    places = np.repeat(last, widths) - np.arange(1, last[-1] + 1)
    whole = np.add.reduceat(digits[is_digit] * POWERS[places], first)
    decimals = np.zeros(starts.size, dtype=np.intp)
    decimals[owners] = last[owners] - digits_before[points]
    values: FloatArray = whole / POWERS[decimals]
    return np.where(is_negative, -values, values)
