"""Published curves of shoes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction

from catalogue.models import CurveKind, ScoreCurve


@dataclass(frozen=True, slots=True)
class PublishedCurve:
    """A curve as a lab publishes it: computed there, only stored here.

    `at` are angles (°) or forces (N), the others torques (N·m) or deflections (mm): the mean over the specimens, and
    the least and most of all recordings.
    """

    kind: CurveKind
    at: tuple[float, ...]
    mean: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    specimens: int
    recordings: int


@transaction.atomic
def score_curves_replace(curves: Mapping[int, Sequence[PublishedCurve]]) -> None:
    """Replace the curves of some shoes, by shoe; one without any has none afterwards.

    Called in the transaction that publishes the scores, which audits who did that and why. Computes nothing.
    """
    ScoreCurve.objects.filter(shoe__in=curves).delete()
    ScoreCurve.objects.bulk_create(
        ScoreCurve(
            shoe_id=shoe,
            kind=curve.kind,
            at=list(curve.at),
            mean=list(curve.mean),
            low=list(curve.low),
            high=list(curve.high),
            specimens=curve.specimens,
            recordings=curve.recordings,
        )
        for shoe, given in curves.items()
        for curve in given
    )
