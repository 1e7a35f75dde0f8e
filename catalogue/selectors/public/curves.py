"""How shoes behaved on the bench: the published curves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from catalogue.models import CurveKind, ScoreCurve


@dataclass(frozen=True, slots=True)
class CurveRow:
    """One averaged curve: torque (N·m) at angles (°), or deflection (mm) at forces (N)."""

    at: tuple[float, ...]
    mean: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    specimens: int
    recordings: int


ShoeCurves = dict[CurveKind, CurveRow]


def curves_of(shoes: Iterable[int]) -> dict[int, ShoeCurves]:
    """Return the curves of some published shoes by shoe and kind: one query; a shoe without curves is left out."""
    found: dict[int, ShoeCurves] = {}
    columns = ("shoe_id", "kind", "at", "mean", "low", "high", "specimens", "recordings")
    for shoe, kind, *series, specimens, recordings in ScoreCurve.objects.filter(shoe__in=shoes).values_list(*columns):
        at, mean, low, high = map(tuple, series)
        found.setdefault(shoe, {})[CurveKind(kind)] = CurveRow(at, mean, low, high, specimens, recordings)
    return found
