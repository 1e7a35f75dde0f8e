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
from decimal import Decimal

EU, UK, US = "eu", "uk", "us"
SYSTEMS = (EU, UK, US)
EU_MIN, EU_MAX = Decimal(15), Decimal(55)
LAST_ALLOWANCE_MM = 15.0
MM_PER_INCH = 25.4
UK_OFFSET, US_MEN_OFFSET, US_WOMEN_OFFSET = 23.0, 22.0, 21.0
SMALLEST_UK = 1.0
_OFFSETS = {"UK": UK_OFFSET, "US M": US_MEN_OFFSET, "US W": US_WOMEN_OFFSET}

_WRITTEN = re.compile(r"(?:(EU|UK|US\s*[MW])\s*)?([0-9]{1,3})(?:[.,]([0-9])0*)?\s*(mm)?", re.IGNORECASE)
HOW_TO_WRITE = "Write a size like EU 42.5, UK 8, US M 9, US W 10.5 or 265 mm"


def _foot_mm(eu: float) -> float:
    return eu * 20.0 / 3.0 - LAST_ALLOWANCE_MM


def _eu_half(foot_mm: float) -> Decimal:
    """Return the nearest half EU size; a value midway goes up, because a short shoe does more harm than a long one."""
    eu = (foot_mm + LAST_ALLOWANCE_MM) * 3.0 / 20.0
    return Decimal(math.floor(eu * 2.0 + 0.5 + 1e-9)) / 2


def read_size(text: str) -> Decimal:
    """Return the EU size that a text names.

    Parameters
    ----------
    text : "EU 42.5", "42,5", "UK 8", "US M 9", "US W 10.5" or "265 mm" (foot length); upper and lower case alike

    Returns
    -------
    EU size with one decimal: exact where an EU size is written, otherwise the nearest half size

    Raises
    ------
    ValueError
        With a sentence for people: not a size, or outside EU 15 to EU 55.

    Examples
    --------
    >>> read_size("EU 42.5"), read_size("265 mm"), read_size("UK 8")
    (Decimal('42.5'), Decimal('42.0'), Decimal('41.5'))
    """
    shown = " ".join(text.split())[:40]
    found = _WRITTEN.fullmatch(text.strip())
    system = " ".join(_spaced(found[1] or "").split()) if found else ""
    if found is None or (found[4] and system):
        raise ValueError(f"{HOW_TO_WRITE}, not “{shown}”.")
    number = Decimal(f"{found[2]}.{found[3] or 0}")
    size = _eu_size(number, "MM" if found[4] else system or "EU")
    if not EU_MIN <= size <= EU_MAX:
        raise ValueError(f"“{shown}” is outside the sizes EU {EU_MIN} to EU {EU_MAX}. {HOW_TO_WRITE}.")
    return size.quantize(Decimal("0.1"))


def _spaced(system: str) -> str:
    return re.sub(r"(?i)us\s*", "US ", system).upper()


def _eu_size(number: Decimal, system: str) -> Decimal:
    if system == "EU":
        return number
    if system == "MM":
        return _eu_half(float(number))
    return _eu_half((float(number) + _OFFSETS[system]) * MM_PER_INCH / 3.0)


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
    inches = 3.0 * _foot_mm(float(eu)) / MM_PER_INCH
    if inches - UK_OFFSET < SMALLEST_UK:
        return plain
    if system == UK:
        return f"UK {_half(inches - UK_OFFSET)} ({plain})"
    if system == US:
        return f"US M {_half(inches - US_MEN_OFFSET)}, W {_half(inches - US_WOMEN_OFFSET)} ({plain})"
    return plain


def _half(value: float) -> str:
    return _number(math.floor(value * 2.0 + 0.5) / 2.0)


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
