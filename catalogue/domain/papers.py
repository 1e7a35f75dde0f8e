"""Sizes of paper of posters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper, mm (ISO 216)."""

    name: str
    width_mm: int
    height_mm: int


PAPERS: Mapping[str, Paper] = {
    "a2": Paper("A2", 420, 594),
    "a1": Paper("A1", 594, 841),
    "a0": Paper("A0", 841, 1189),
}
