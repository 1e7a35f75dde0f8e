"""What the page on the method shows of apps above the catalogue, which may not be imported from here.

The lab registers where its protocol and scoring models can be read::

    from catalogue import method

    method.register_source(read_protocols_and_models)
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MethodTable:
    """One table of the method: every cell a text, the first of a row its heading."""

    title: str
    note: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


Source = Callable[[str], Sequence[MethodTable]]
_sources: list[Source] = []


def register_source(source: Source) -> None:
    """Add a function that reads tables for the page, in "metric" or "imperial" units, when the page is drawn."""
    if source not in _sources:
        _sources.append(source)


def tables(units: str) -> list[MethodTable]:
    return [table for source in _sources for table in source(units)]
