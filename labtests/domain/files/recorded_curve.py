"""The curve that a table of readings has for one test, repeat and branch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.domain.units import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class RecordedCurve:
    """One recorded branch in file order.

    ``position`` is in deg (torsion) or mm (compression), ``load`` in N·m or N, both of shape ``(n,)``, finite; while a
    file is being read, in the units of the file. ``lines`` are those of its rows in the file, counted from 1; empty
    where it does not come from a file.
    """

    test: str
    repeat: int
    branch: str
    position: FloatArray
    load: FloatArray
    lines: Sequence[int] = ()

    @property
    def name(self) -> str:
        return f"{self.test}, repeat {self.repeat}, {self.branch}"
