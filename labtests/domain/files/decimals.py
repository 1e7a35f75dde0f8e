"""Many written numbers at once: plain decimals such as 6.82 or -0.5."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from core.domain.units import FloatArray

ZERO, DOT, MINUS = b"0.-"
# Whole numbers below 10 to this power and powers of ten up to there are exact as floats, so that one division rounds
# once and gives the very float that the written number is nearest to. The point takes one place until then.
MAX_PLACES = 15
POWERS = 10.0 ** np.arange(MAX_PLACES + 1)
# So many numbers at a time, lest a large file take many times its size.
BLOCK = 1 << 14

Array = npt.NDArray[Any]
Places = npt.NDArray[np.intp]


def read_decimals(text: bytes, starts: Places, ends: Places) -> FloatArray | None:
    """Read plain decimals that stand in a text.

    Parameters
    ----------
    text : bytes
    starts, ends : array of int, shape (n,)
        Where each number begins, and the place after its last character: up to 15 characters, digits with at most one
        point, and a minus before them.

    Returns
    -------
    array, shape (n,), or None
        The same floats as ``float`` gives for each; None where one of them is written otherwise.

    Examples
    --------
    >>> read_decimals(b"6.82,-.5,3", np.array([0, 5, 9]), np.array([4, 8, 10])).tolist()
    [6.82, -0.5, 3.0]
    >>> read_decimals(b"6.82,1e3", np.array([0, 5]), np.array([4, 8])) is None
    True
    """
    raw = np.frombuffer(text, np.uint8)
    if (ends <= starts).any():
        return None
    is_negative = raw[starts] == MINUS
    widths = ends - starts - is_negative
    if widths.min() < 1 or widths.max() > MAX_PLACES:
        return None
    values = np.empty(ends.size)
    for first in range(0, ends.size, BLOCK):
        block = slice(first, first + BLOCK)
        read = _read_block(raw, ends[block], widths[block])
        if read is None:
            return None
        values[block] = read
    np.negative(values, out=values, where=is_negative)
    return values


def _read_block(raw: Array, ends: Array, widths: Array) -> FloatArray | None:
    """Read numbers without their sign, which end before `ends` and have so many characters."""
    digits = _characters(raw, ends, widths) - ZERO  # other characters become 10 or more, in eight bits
    points = np.flatnonzero(digits == (DOT - ZERO) % 256)
    places, owners = np.divmod(points, ends.size)
    digits.ravel()[points] = 0
    # No number has two points, none is a point alone, and every other character is a digit.
    if digits.max() > 9 or (np.bincount(owners) > 1).any() or (widths[owners] == 1).any():
        return None
    whole: FloatArray = POWERS[: len(digits)] @ digits
    # The point's place holds a zero: what is before it is moved down by one place.
    scale, pointed = POWERS[places], whole[owners]
    whole[owners] = (pointed - np.floor(pointed / (10.0 * scale)) * (9.0 * scale)) / scale
    return whole


def _characters(raw: Array, ends: Array, widths: Array) -> Array:
    """The characters of each number in a column, the last of them first, zeros where it has no more."""
    places = np.arange(widths.max())[:, np.newaxis]
    # An index below zero counts from the end: whatever it finds there is no part of the number.
    characters: Array = raw[ends - 1 - places]
    characters[places >= widths] = ZERO
    return characters
