"""Publishing how shoes behaved on the bench, beside their scores."""

from __future__ import annotations

from collections.abc import Collection

from catalogue.models import CurveKind
from catalogue.services import PublishedCurve, score_curves_replace
from core.domain.units import FloatArray
from labtests.domain.curves.averaged_curves import AveragedCurve
from labtests.selectors.scores.shoe_curves import curves_of_shoes

DIGITS, DECIMALS = 4, 6
"""Significant digits of what is published: more than the bench resolves, and few enough to stay light."""


def curves_publish(*, shoes: Collection[int]) -> None:
    """Publish the averaged curves of the tests that count for some shoes, in the transaction of their scores."""
    if not shoes:
        return
    found = curves_of_shoes(shoes)
    score_curves_replace(
        {shoe: [_published(kind, curve) for kind, curve in curves.items()] for shoe, curves in found.items()}
    )


def _published(kind: str, curve: AveragedCurve) -> PublishedCurve:
    return PublishedCurve(
        kind=CurveKind(kind),
        at=_rounded(curve.at),
        mean=_rounded(curve.mean),
        low=_rounded(curve.low),
        high=_rounded(curve.high),
        specimens=curve.specimens,
        recordings=curve.recordings,
    )


def _rounded(values: FloatArray) -> tuple[float, ...]:
    # What the arithmetic left of nothing is nothing.
    return tuple(float(f"{round(value, DECIMALS):.{DIGITS}g}") for value in values.tolist())
