"""How far two readings on a picture differ in the own stores."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fittings.domain.fitting.angles import repeat_error
from fittings.models import PictureAngle

PAIRS_LEAST = 10
"""Fewer pairs of readings than this give no error that could be relied on; common practice, no source."""


@dataclass(frozen=True, slots=True)
class RepeatError:
    """Standard deviation of a single reading by the same person on the same picture; None for too few pairs."""

    error: float | None
    pairs: int


def repeat_error_of(user: Any, kind: str) -> RepeatError:
    """The error of one measure, over all pairs of readings of the user's stores: one query."""
    rows = PictureAngle.objects.filter(
        kind=kind, fitting__store__in=user.store_ids(), fitting__store__is_training=False
    )
    apart = list(rows.values_list("apart", flat=True))
    return RepeatError(repeat_error(apart) if len(apart) >= PAIRS_LEAST else None, len(apart))
