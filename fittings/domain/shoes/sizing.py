"""Shoe size from foot length, by the arithmetic of `catalogue.domain.sizes`; the larger foot leads.

Conversions are common practice on foot length (ISO 9407 gives the length, ISO/TS 19407 is a guideline): the size
marked on a shoe differs by up to about one size, so a size found here is where trying on begins.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from catalogue.domain.sizes import (
    FOOT_MM,
    HOW_TO_WRITE,
    SIZE_RANGES,
    UK,
    UK_OFFSET,
    US_MEN,
    US_MEN_OFFSET,
    US_WOMEN,
    US_WOMEN_OFFSET,
    barleycorns_of,
    eu_of,
    half_size,
    number_in,
    read_size,
    written_size,
)
from core.domain.quoting import quoted
from fittings.domain.bounds import LIMITS, number_within

DIFFERENCE_NOTED_MM = 5.0
"""Left and right differing by more than this are pointed out; common practice, no source."""

DIFFERENCE_REMARKED_MM = 6.0
"""Left and right differing by more than this are rarely served by one size; common practice, no source."""

SIZE_SYSTEMS = {"eu": "EU", "uk": "UK", "us-men": "US men", "us-women": "US women", "mm": "mm"}
"""The systems in which people say their size."""

# How a number of each is said, and what the catalogue calls the system.
_SPOKEN = {
    "uk": ("UK {}", UK),
    "us-men": ("US M {}", US_MEN),
    "us-women": ("US W {}", US_WOMEN),
    "mm": ("{} mm", FOOT_MM),
}
_NUMBER = re.compile(r"[0-9]{1,3}(?:[.,][0-9]+)?")
_WITH_EU = re.compile(r"[^()]*\((EU [0-9.,]+)\)")


@dataclass(frozen=True, slots=True)
class Size:
    """Sizes for one foot length: the unrounded values of four systems."""

    foot_length_mm: float
    eu: float
    uk: float
    us_men: float
    us_women: float


@dataclass(frozen=True, slots=True)
class PairSize:
    """Size for a pair of feet, with the foot that leads and a note where they differ."""

    size: Size
    eu_half: float
    leading: str
    difference_mm: float | None
    note: str


def size_of(foot_length_mm: float) -> Size:
    """Sizes that belong to a foot length.

    Parameters
    ----------
    foot_length_mm : float
        Length of the foot, 100 to 400 mm.

    Returns
    -------
    Size
        Unrounded: EU = (f + 15) · 3/20, UK = 3 f/25.4 − 23, US men one more than UK, US women two more than UK.

    Raises
    ------
    TypeError, ValueError
        When the length is no number in the range.

    References
    ----------
    .. [1] Paris point 2/3 cm and barleycorn 1/3 inch, encyclopaedic; the EU form with 15 mm of last allowance from
       memory.

    Examples
    --------
    >>> size_of(265).eu
    42.0
    """
    length = number_within("foot_length_mm", foot_length_mm, *LIMITS["length_mm"])
    corns = barleycorns_of(length)
    return Size(length, eu_of(length), corns - UK_OFFSET, corns - US_MEN_OFFSET, corns - US_WOMEN_OFFSET)


def read_eu_size(text: object) -> Decimal:
    """European size that a text or number names; read as everywhere else by `catalogue.domain.sizes.size_read`.

    Parameters
    ----------
    text : object
        ``"EU 42.5"``, ``"42,5"``, ``"UK 8"``, ``"US M 9"``, ``"US W 10.5"``, ``"265 mm"``, ``42.5`` or ``42``; a number
        alone is an EU size.

    Returns
    -------
    Decimal
        With one decimal; of any other size than EU the nearest half size, which is approximate.

    Raises
    ------
    TypeError
        When it is neither text nor number.
    ValueError
        When it is no size; the message names the forms and their ranges.

    Examples
    --------
    >>> read_eu_size("EU 42.5"), read_eu_size("UK 8"), read_eu_size(42)
    (Decimal('42.5'), Decimal('41.5'), Decimal('42.0'))
    """
    if isinstance(text, bool) or not isinstance(text, (str, int, float, Decimal)):
        raise TypeError(f"{HOW_TO_WRITE}, not {quoted(str(text))}. Possible sizes: {SIZE_RANGES}.")
    return read_size(str(text))


def size_in(eu: Decimal | float, system: str) -> str:
    """Write an EU size as somebody says it, with the EU size that the stock is counted by.

    Parameters
    ----------
    eu : Decimal or float
        EU size.
    system : str
        A key of `SIZE_SYSTEMS`, or "us" for men's and women's beside each other; any other is written as EU.

    Returns
    -------
    str
        ``"EU 42"``, or the nearest half size of the other system (midway up) or the foot length in mm, with the EU
        size in brackets. Below UK 1 children's numbers begin again: EU alone.

    References
    ----------
    .. [1] As `size_of`: common practice on foot length.

    Examples
    --------
    >>> size_in(42, "uk"), size_in(42, "us-women"), size_in(42.5, "mm"), size_in(42, "eu")
    ('UK 8.5 (EU 42)', 'US W 10.5 (EU 42)', '268 mm (EU 42.5)', 'EU 42')
    """
    if system not in _SPOKEN:
        return written_size(Decimal(str(eu)), system)
    form, known_as = _SPOKEN[system]
    plain, number = f"EU {float(eu):g}", number_in(Decimal(str(eu)), known_as)
    return plain if number is None else f"{form.format(number)} ({plain})"


def size_said(text: str, system: str) -> str:
    """Complete a size that was said without its system; one that `size_in` wrote is its EU size.

    Parameters
    ----------
    text : str
        ``"9"``, ``"US M 9"``, ``"UK 8.5 (EU 42)"``; what is no size stays as it is.
    system : str
        A key of `SIZE_SYSTEMS`. With ``"us"`` a number alone stays without men or women, which no reader accepts.

    Returns
    -------
    str
        What `read_eu_size` reads.

    Examples
    --------
    >>> size_said("9", "us-men"), size_said("UK 8.5 (EU 42)", "uk"), size_said("42", "eu"), size_said("265", "mm")
    ('US M 9', 'EU 42', '42', '265 mm')
    """
    plain = " ".join(text.split())
    if written := _WITH_EU.fullmatch(plain):
        return written[1]
    if system in ("", "eu") or not _NUMBER.fullmatch(plain):
        return plain
    return _SPOKEN[system][0].format(plain) if system in _SPOKEN else f"{system.upper()} {plain}"


def size_of_pair(left_mm: float | None, right_mm: float | None) -> PairSize | None:
    """Size for two feet; the larger one leads.

    Parameters
    ----------
    left_mm, right_mm : float or None
        Foot lengths, 100 to 400 mm; None where not measured.

    Returns
    -------
    PairSize or None
        None when neither foot was measured. With one foot, that one leads and the note says so.

    Raises
    ------
    TypeError, ValueError
        When a length is no number in the range.

    Examples
    --------
    >>> size_of_pair(262, 268).eu_half
    42.5
    """
    measured = {side: value for side, value in (("left", left_mm), ("right", right_mm)) if value is not None}
    if not measured:
        return None
    sizes = {side: size_of(value) for side, value in measured.items()}
    leading = max(sizes, key=lambda side: sizes[side].foot_length_mm)
    size = sizes[leading]
    if len(sizes) == 1:
        return PairSize(size, half_size(size.eu), leading, None, f"Only the {leading} foot was measured.")
    difference = abs(sizes["left"].foot_length_mm - sizes["right"].foot_length_mm)
    return PairSize(size, half_size(size.eu), leading, difference, _difference_note(leading, difference))


def width_note(left_mm: float | None, right_mm: float | None) -> str:
    """What is to be said of the feet's width, which no shoe here is matched on: how wide shoes are is not measured.

    Parameters
    ----------
    left_mm, right_mm : float or None
        Foot widths, 40 to 200 mm; None where not measured.

    Returns
    -------
    str
        Empty where neither was measured. The wider foot leads, as the longer one does for the size.

    Raises
    ------
    ValueError
        When a width is outside the range.

    References
    ----------
    .. [1] ISO 9407: Mondopoint names a size by foot length and foot width in millimetres (from memory).

    Examples
    --------
    >>> width_note(100.0, 101.5)
    'The right foot is the wider one, 101.5 mm. How wide a shoe is was not measured: try the width on, standing.'
    """
    measured = {side: value for side, value in (("left", left_mm), ("right", right_mm)) if value is not None}
    for value in measured.values():
        number_within("foot_width_mm", value, *LIMITS["width_mm"])
    if not measured:
        return ""
    widest = max(measured.values())
    sides = [side for side, value in measured.items() if value == widest]
    if len(measured) == 1:
        which = f"Only the {sides[0]} foot’s width was measured"
    else:
        which = "Both feet are as wide" if len(sides) > 1 else f"The {sides[0]} foot is the wider one"
    return f"{which}, {widest:g} mm. How wide a shoe is was not measured: try the width on, standing."


def _difference_note(leading: str, difference_mm: float) -> str:
    if difference_mm <= DIFFERENCE_NOTED_MM:
        return ""
    words = f"The {leading} foot is {difference_mm:g} mm longer; check the fit of both shoes."
    if difference_mm <= DIFFERENCE_REMARKED_MM:
        return words
    return (
        f"{words} One size rarely serves both: fit the longer foot and take up room in the other shoe, or ask for two "
        "sizes (common practice, no source)."
    )
