"""What of the match is data: a version of it goes with the rules of the need."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MatchRules:
    """What of the match is for head office to set; `M1` is common practice, no source.

    A drop that differs from the present shoe's by more than `drop_change_warned_mm` is warned of; shoes count as
    equally likely within a step of `probability_step`; `nearest_shown` are shown where nothing lies in the target.
    """

    drop_change_warned_mm: float = 4.0
    probability_step: float = 0.05
    nearest_shown: int = 3


M1 = MatchRules()
"""The first rules of the match."""
