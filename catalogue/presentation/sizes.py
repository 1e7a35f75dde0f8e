"""Sizes as a reader says them: in the system that they chose, marked as approximate where that is not EU."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from catalogue.domain.sizes import EU, FOOT_MM, UK, US_MEN, US_WOMEN, number_in
from core.web import display

HALF = Decimal("0.5")
SYSTEM_NAMES: Mapping[str, str] = {
    EU: "EU",
    UK: "UK",
    US_MEN: "US men’s",
    US_WOMEN: "US women’s",
    FOOT_MM: "foot length in mm",
}


def run_text(sizes: Sequence[Decimal], system: str = EU) -> str:
    """Write sizes in stock, smallest first: "EU 38 to 41, 42.5", "about UK 5 to 7.5"."""
    if not sizes:
        return "none in stock"
    runs: list[list[Decimal]] = []
    for size in sizes:
        if runs and size - runs[-1][-1] <= HALF:
            runs[-1].append(size)
        else:
            runs.append([size])
    # Children's sizes have no number in most systems: then all are said in EU.
    said = EU if system != EU and any(number_in(size, system) is None for size in sizes) else system
    return _named(", ".join(dict.fromkeys(_run(run, said) for run in runs)), said)


def _run(sizes: Sequence[Decimal], system: str) -> str:
    if system == EU and len(sizes) > 2:
        return f"{display.bare_size(sizes[0])} to {display.bare_size(sizes[-1])}"
    numbers = list(dict.fromkeys(number_in(size, system) or "" for size in sizes))
    return f"{numbers[0]} to {numbers[-1]}" if len(numbers) > 2 else ", ".join(numbers)


def _named(numbers: str, system: str) -> str:
    if system == FOOT_MM:
        return f"foot of about {numbers}{display.NO_BREAK}mm"
    about = "" if system == EU else "about "
    return f"{about}{SYSTEM_NAMES[system]}{display.NO_BREAK}{numbers}"


def size_in_system(eu: Decimal, system: str) -> str:
    """Write one size: "EU 42.5", or in another system with the EU size that stock is counted by.

    Examples
    --------
    >>> size_in_system(Decimal("39.5"), "us-w").replace(display.NO_BREAK, " ")
    'US women’s 8.5 (EU 39.5)'
    """
    number, plain = number_in(eu, system), display.size(eu)
    if system == EU or number is None:
        return plain
    return f"{f'{number} mm' if system == FOOT_MM else f'{SYSTEM_NAMES[system]} {number}'} ({plain})"
