"""What curves are read at, and what becomes of a curve that does not reach it. Nothing is extrapolated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

from core.domain.figures import figure
from core.domain.units import FloatArray

Points = tuple[FloatArray, FloatArray]
TARGET_ANGLE_DEG = 15.0
TARGET_FORCE_N = 444.82216152605
"""100 lbf, exact; the protocol's 444.8 N written in full, so that inch-pound files end on the very same force."""
REACHED_FORCE_N = 444.8
"""Force that counts as reached; a curve ending between it and the target is read at its end (at most 0.005 % short)."""
CONTACT_FORCE_N = 5.0
MJ_PER_J = 1000.0


@dataclass(frozen=True, slots=True)
class Target:
    """What curves are read at: the angle of torsion (°) and the force of compression (N), both > 0."""

    angle_deg: float = TARGET_ANGLE_DEG
    force_n: float = TARGET_FORCE_N

    @property
    def torque_name(self) -> str:
        return f"torque at {figure(self.angle_deg)}°"

    @property
    def reached_n(self) -> float:
        """Force that counts as reached, in the proportion of the standard protocol."""
        return self.force_n - (TARGET_FORCE_N - REACHED_FORCE_N) * (self.force_n / TARGET_FORCE_N)


STANDARD = Target()


class CurveShortfall(ValueError):
    """A curve that is sound but does not hold what has to be read from it: the test cannot be scored from it."""

    def __init__(self, message: str, *, code: str) -> None:
        super().__init__(message)
        self.code = code


Read = TypeVar("Read")


def raise_shortfall(read: Read | CurveShortfall) -> Read:
    """Return what was read of a curve, or raise why it could not be."""
    if isinstance(read, CurveShortfall):
        raise read
    return read
