"""Shoe sizes as stores write them: EU, UK and US, and foot length in millimetres. Conversions are approximate.

Makers differ by up to about one size, so a converted size is where to look, not what is printed on the shoe. The
arithmetic is that of a fitting: common practice on foot length, no source. Stock is counted by EU size.

References
----------
.. [1] Paris point 2/3 cm and barleycorn 1/3 inch, encyclopaedic; 15 mm of last allowance and the US numbers from
   memory.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

EU, UK, US = "eu", "uk", "us"
"""How a store writes sizes: US means both men's and women's numbers."""

US_MEN, US_WOMEN, FOOT_MM = "us-m", "us-w", "mm"
READER_SYSTEMS = (EU, UK, US_MEN, US_WOMEN, FOOT_MM)
"""How a reader may choose to see sizes."""

LAST_ALLOWANCE_MM = 15.0
MM_PER_INCH = 25.4
UK_OFFSET, US_MEN_OFFSET, US_WOMEN_OFFSET = 23.0, 22.0, 21.0
SMALLEST_UK = 1.0
_OFFSETS = {"UK": UK_OFFSET, "US M": US_MEN_OFFSET, "US W": US_WOMEN_OFFSET}

_SYSTEMS = {"UK": UK, "US M": US_MEN, "US W": US_WOMEN, "mm": FOOT_MM}

# Each form with its range. UK and US have half sizes only and begin where children's numbers end; the largest ones and
# the lengths are those that come to EU 15 to 55. No flags and no classes that JSON Schema reads in another way.
_FORMS = {
    "EU": r"(?:[Ee][Uu] *)?((?:1[5-9]|[2-4][0-9]|5[0-4])(?:[.,][0-9]0*)?|55(?:[.,]0+)?)",
    "UK": r"[Uu][Kk] *((?:[1-9]|1[0-8])(?:[.,][05]0*)?)",
    "US M": r"[Uu][Ss] *[Mm] *((?:[2-9]|1[0-9])(?:[.,][05]0*)?)",
    "US W": r"[Uu][Ss] *[Ww] *((?:[3-9]|1[0-9]|20)(?:[.,][05]0*)?)",
    "mm": r"((?:8[5-9]|9[0-9]|[12][0-9][0-9]|3[0-4][0-9])(?:[.,][0-9]0*)?|350(?:[.,]0+)?) *[Mm][Mm]",
}
_READERS = {system: re.compile(form) for system, form in _FORMS.items()}
SIZE_PATTERN = f"^ *(?:{'|'.join(_FORMS.values())}) *$"
"""Exactly what `size_read` accepts, as a regular expression for JSON Schema."""

SIZE_EXAMPLES = "EU 42.5, UK 8, US M 9, US W 10.5 or 265 mm"
SIZE_RANGES = "EU 15 to 55, UK 1 to 18.5, US M 2 to 19.5, US W 3 to 20.5, foot length 85 to 350 mm"
HOW_TO_WRITE = f"Write a size like {SIZE_EXAMPLES}"
SIZE_MAX_LENGTH = 20
"""Characters that a form leaves for a size."""


@dataclass(frozen=True, slots=True)
class ReadSize:
    """A size that was read.

    Parameters
    ----------
    eu : EU size with one decimal, by which stock is counted
    converted_from : the size as it was given ("UK 8", "265 mm"), where `eu` is an approximate conversion of it; else ""
    """

    eu: Decimal
    converted_from: str

    @property
    def system(self) -> str:
        """The system in which it was given, as in `READER_SYSTEMS`."""
        return next((_SYSTEMS[form] for form in _SYSTEMS if form in self.converted_from), EU)


def foot_mm_of(eu: float) -> float:
    """Return the length of the foot that an EU size is for, in mm.

    Examples
    --------
    >>> foot_mm_of(42.0)
    265.0
    """
    return eu * 20.0 / 3.0 - LAST_ALLOWANCE_MM


def eu_of(foot_mm: float) -> float:
    """Return the EU size of a foot length in mm, unrounded.

    Examples
    --------
    >>> eu_of(265.0)
    42.0
    """
    return (foot_mm + LAST_ALLOWANCE_MM) * 3.0 / 20.0


def barleycorns_of(foot_mm: float) -> float:
    """Return a foot length in thirds of an inch, from which UK and US numbers begin at their offsets.

    Examples
    --------
    >>> barleycorns_of(254.0)
    30.0
    """
    return 3.0 * foot_mm / MM_PER_INCH


def _eu_half(foot_mm: float) -> Decimal:
    """Return the nearest half EU size; a value midway goes up, because a short shoe does more harm than a long one."""
    return Decimal(math.floor(eu_of(foot_mm) * 2.0 + 0.5 + 1e-9)) / 2


def size_read(text: str) -> ReadSize:
    """Return the EU size that a text names, and what it was converted from.

    This is the one reader of sizes: pages, query strings, files and both APIs use it.

    Parameters
    ----------
    text : "EU 42.5", "42,5", "UK 8", "US M 9", "US W 10.5" or "265 mm" (foot length); upper and lower case alike. A
        number alone is an EU size.

    Returns
    -------
    ReadSize
        An EU size is exact. Any other size is converted, and the result rarely is a half EU size: it is rounded to the
        nearest half size (midway up), is approximate, and `converted_from` says so.

    Raises
    ------
    ValueError
        With a sentence for people that names the forms and their ranges.

    References
    ----------
    .. [1] As for this module: common practice on foot length, no source.

    Examples
    --------
    >>> size_read("UK 8")
    ReadSize(eu=Decimal('41.5'), converted_from='UK 8')
    >>> size_read("42,5")
    ReadSize(eu=Decimal('42.5'), converted_from='')
    """
    plain = " ".join(text.split())
    for system, form in _READERS.items():
        if given := form.fullmatch(plain):
            return _read_as(system, given[1].replace(",", "."))
    shown = f"{plain[:40]}…" if len(plain) > 40 else plain
    raise ValueError(f"{HOW_TO_WRITE}, not “{shown}”. Possible sizes: {SIZE_RANGES}.")


def _read_as(system: str, digits: str) -> ReadSize:
    number = float(digits)
    if system == "EU":
        return ReadSize(Decimal(digits).quantize(Decimal("0.1")), "")
    foot_mm = number if system == "mm" else (number + _OFFSETS[system]) * MM_PER_INCH / 3.0
    written = f"{_number(number)} mm" if system == "mm" else f"{system} {_number(number)}"
    return ReadSize(_eu_half(foot_mm).quantize(Decimal("0.1")), written)


def read_size(text: str) -> Decimal:
    """Return the EU size that a text names, as `size_read` reads it.

    Raises
    ------
    ValueError
        As `size_read`.

    Examples
    --------
    >>> read_size("EU 42.5"), read_size("265 mm"), read_size("UK 8")
    (Decimal('42.5'), Decimal('42.0'), Decimal('41.5'))
    """
    return size_read(text).eu


def mark_converted(eu_text: str, converted_from: str) -> str:
    """Return the words for an EU size; one that was converted is marked as approximate.

    Parameters
    ----------
    eu_text : the EU size as the page writes it
    converted_from : as `ReadSize` has it

    Examples
    --------
    >>> mark_converted("EU 41.5", "UK 8"), mark_converted("EU 41.5", "")
    ('about EU 41.5 (UK 8)', 'EU 41.5')
    """
    return f"about {eu_text} ({converted_from})" if converted_from else eu_text


def written_size(eu: Decimal, system: str) -> str:
    """Return a size as a store writes it, with the EU size that the stock is counted by.

    Parameters
    ----------
    eu : EU size
    system : "eu", "uk" or "us"; any other is written as EU

    Returns
    -------
    "EU 42.5", or with an approximate size of the store's own system first: "UK 8 (EU 41.5)"

    Notes
    -----
    The nearest half size of the other system, midway up. Two EU sizes may get the same number; the EU size in brackets
    says which one is meant. Below UK 1 the numbers of children's sizes begin again; those are written as EU alone.

    Examples
    --------
    >>> written_size(Decimal("42.0"), "us")
    'US M 9.5, W 10.5 (EU 42)'
    """
    plain = f"EU {_number(float(eu))}"
    corns = barleycorns_of(foot_mm_of(float(eu)))
    if corns - UK_OFFSET < SMALLEST_UK:
        return plain
    if system == UK:
        return f"UK {_half(corns - UK_OFFSET)} ({plain})"
    if system == US:
        return f"US M {_half(corns - US_MEN_OFFSET)}, W {_half(corns - US_WOMEN_OFFSET)} ({plain})"
    return plain


_READER_OFFSETS = {UK: UK_OFFSET, US_MEN: US_MEN_OFFSET, US_WOMEN: US_WOMEN_OFFSET}


@lru_cache(maxsize=1024)
def number_in(eu: Decimal, system: str) -> str | None:
    """Return the number of a size in the system that a reader chose.

    Parameters
    ----------
    eu : EU size
    system : one of `READER_SYSTEMS`

    Returns
    -------
    str or None
        The EU number, the nearest half size of another system (midway up, approximate) or the foot length in whole mm.
        None below UK 1, where the numbers of children's sizes begin again.

    References
    ----------
    .. [1] As for this module: common practice on foot length, no source.

    Examples
    --------
    >>> [number_in(Decimal("42.0"), system) for system in READER_SYSTEMS]
    ['42', '8.5', '9.5', '10.5', '265']
    """
    if system == EU:
        return _number(float(eu))
    foot_mm = foot_mm_of(float(eu))
    if system == FOOT_MM:
        return f"{math.floor(foot_mm + 0.5)}"
    corns = barleycorns_of(foot_mm)
    return None if corns - UK_OFFSET < SMALLEST_UK else _half(corns - _READER_OFFSETS[system])


def half_size(size: float) -> float:
    """Return the nearest half size; a value midway goes up, because a short shoe does more harm than a long one.

    Parameters
    ----------
    size : float
        Unrounded size of any system.

    Raises
    ------
    ValueError
        When the size is not finite.

    Examples
    --------
    >>> half_size(42.75), half_size(42.7)
    (43.0, 42.5)
    """
    if not math.isfinite(size):
        raise ValueError(f"size must be finite, got {size!r}")
    return math.floor(size * 2.0 + 0.5) / 2.0


def _half(size: float) -> str:
    return _number(half_size(size))


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
