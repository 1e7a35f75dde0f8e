"""Sizes of a file that states its system once: EU, UK, US men, US women, or the length of the foot in mm."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType

from catalogue.domain.sizes import EU, FOOT_MM, UK, US_MEN, US_WOMEN, size_read

NAMES: Mapping[str, str] = MappingProxyType({EU: "EU", UK: "UK", US_MEN: "US men", US_WOMEN: "US women", FOOT_MM: "mm"})
"""How a file names a system, by its key in `sizes.READER_SYSTEMS`."""

_BEFORE = {EU: "EU", UK: "UK", US_MEN: "US M", US_WOMEN: "US W", FOOT_MM: ""}
_KNOWN = {name.casefold(): key for key, name in NAMES.items()} | {"us m": US_MEN, "us w": US_WOMEN}
_NUMBER = re.compile(r"\d{1,3}(?:[.,]\d)?", re.ASCII)


def read_system(text: str) -> str:
    """Return the key of the system that a text names.

    Raises
    ------
    ValueError
        With a sentence that lists the names.

    Examples
    --------
    >>> read_system("US women")
    'us-w'
    """
    known = _KNOWN.get(" ".join(text.split()).casefold())
    if known is None:
        raise ValueError(f"“{text[:40]}” is not a size system. Write {', '.join(NAMES.values())}.")
    return known


def size_in(text: str, system: str) -> Decimal:
    """Return the EU size of a number in a system; a text that names its system must name the same one.

    Parameters
    ----------
    text : "9", "9,5" or "UK 9"
    system : one of `sizes.READER_SYSTEMS`

    Returns
    -------
    Decimal
        Exact for EU; any other is converted to the nearest half EU size, as `sizes.size_read` does.

    Raises
    ------
    ValueError
        With a sentence for people.

    Examples
    --------
    >>> size_in("8", "uk"), size_in("265", "mm"), size_in("EU 42", "eu")
    (Decimal('41.5'), Decimal('42.0'), Decimal('42.0'))
    """
    plain = " ".join(text.split())
    if _NUMBER.fullmatch(plain):
        return size_read(f"{plain} mm" if system == FOOT_MM else f"{_BEFORE[system]} {plain}").eu
    read = size_read(plain)
    if read.system != system:
        raise ValueError(f"“{plain[:40]}” is not a size in the system {NAMES[system]}. Write the number alone.")
    return read.eu
