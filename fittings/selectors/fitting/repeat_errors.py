"""How far two readings on a picture differ in the own stores."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fittings.domain.fitting.angles import repeat_error
from fittings.models import LookFoot, PictureAngle

IN_LOOKS = "rearfoot_eversion"
"""The measure that is taken in looks too."""

PAIRS_LEAST = 10
"""Fewer pairs of readings than this give no error that could be relied on; common practice, no source."""


@dataclass(frozen=True, slots=True)
class RepeatError:
    """Standard deviation of a single reading by the same person on the same picture; None for too few pairs."""

    error: float | None
    pairs: int


def repeat_error_of(user: Any, kind: str) -> RepeatError:
    """The error of one measure, over all pairs of readings of the user's stores: one query."""
    own = {"fitting__store__in": user.store_ids(), "fitting__store__is_training": False}
    rows: Any = PictureAngle.objects.filter(kind=kind, **own).values_list("apart", flat=True)
    if kind == IN_LOOKS:
        looks = LookFoot.objects.filter(rearfoot_eversion_apart__isnull=False, **own)
        rows = rows.order_by().union(looks.order_by().values_list("rearfoot_eversion_apart", flat=True), all=True)
    apart = list(rows)
    return RepeatError(repeat_error(apart) if len(apart) >= PAIRS_LEAST else None, len(apart))
