"""What the page on the method shows of apps above the catalogue, which may not be imported from here.

The lab registers where its protocol and scoring models can be read::

    from catalogue.selectors.public import method

    method.register_lab(our_lab)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class MethodTable:
    """One table of the method: every cell a text, the first of a row its heading."""

    title: str
    note: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Procedure:
    """How a test is made and read, in the reader's units, and the limits of what is said of its score."""

    angle: str
    load: str
    load_as_mass: str
    contact: str
    probability_least: str
    specimens_least: int
    guard: str = ""


@dataclass(frozen=True, slots=True)
class FormulaSet:
    """The four formulas of one scoring model, with its numbers: name and formula."""

    model: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class WearSeries:
    """One specimen of a published shoe, tested new and after distances: km and stability, and what that says."""

    title: str
    slug: str
    points: tuple[tuple[float, float], ...]
    sentences: tuple[str, ...]


class Lab(Protocol):
    """What the lab says about its method. Units are "metric" or "imperial"."""

    def mark(self) -> str:
        """Return a text that differs once the protocol or a model has changed."""

    def tables(self, units: str) -> Sequence[MethodTable]:
        """Return the accepted conditions and the anchors."""

    def procedure(self, units: str) -> Procedure:
        """Return how a test is made."""

    def formulas(self, units: str, models: Sequence[str]) -> Sequence[FormulaSet]:
        """Return the formulas of the current scoring model, and of others by version."""

    def wear(self, units: str) -> Sequence[WearSeries]:
        """Return what wear did to specimens of published shoes."""

    def readings(
        self, units: str, procedure: Procedure, model: str, scores: Mapping[str, Reading]
    ) -> Sequence[tuple[str, str]]:
        """Return what was read on the bench for scores of a model, by a procedure in these units: name and value."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A score and its expanded uncertainty, points."""

    value: float
    expanded_u: float | None


_labs: list[Lab] = []


def register_lab(lab: Lab) -> None:
    """Name the lab whose method is shown; the last one named counts."""
    _labs[:] = [lab]


def lab() -> Lab | None:
    """Return the lab, or None where no app above has one."""
    return _labs[0] if _labs else None


def mark() -> str:
    """Return a text that differs once the method has changed."""
    held = lab()
    return held.mark() if held else ""
