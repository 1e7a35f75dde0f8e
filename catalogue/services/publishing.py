"""Brands, shoes and published score cards."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone

from catalogue.models import Band, Brand, ScoreCard, Shoe
from catalogue.services.checks import check
from core import audit
from core.errors import DomainError
from core.models import User


@dataclass(frozen=True, slots=True)
class PublishedScores:
    """What a lab publishes of a shoe: computed there, only kept here.

    `band` and `neighbour` are orders on the scale; `…_u` are standard uncertainties, None where not known.
    """

    scale: str
    band: int
    stability: float
    midfoot: float
    rearfoot: float
    cushioning: float
    specimens: int
    tested_on: dt.date
    scoring_model: str
    protocol: str
    stability_u: float | None = None
    midfoot_u: float | None = None
    rearfoot_u: float | None = None
    cushioning_u: float | None = None
    cushioning_estimated: bool = False
    band_probability: float | None = None
    is_borderline: bool = False
    neighbour: int | None = None
    is_provisional: bool = False


@transaction.atomic
def brand_create(*, actor: User | None, slug: str, name: str) -> Brand:
    brand = Brand(slug=slug, name=name)
    check(brand)
    brand.save()
    audit.record(actor=actor, action="catalogue.brand.created", subject=brand)
    return brand


@transaction.atomic
def shoe_create(*, actor: User | None, slug: str, brand: Brand, name: str, **details: Any) -> Shoe:
    """Add a shoe, not yet published.

    Parameters
    ----------
    details : any of version, use, mass_g, stack_heel_mm, stack_forefoot_mm, previous, is_discontinued
    """
    shoe = Shoe(slug=slug, brand=brand, name=name, **details)
    check(shoe)
    shoe.save()
    audit.record(actor=actor, action="catalogue.shoe.created", subject=shoe)
    return shoe


def _bands(scores: PublishedScores) -> tuple[Band, Band | None]:
    """Find the bands that the scores name, and refuse ones that contradict the score."""
    by_order = {band.order: band for band in Band.objects.filter(scale__version=scores.scale).select_related("scale")}
    if not by_order:
        raise DomainError(f"There is no scale {scores.scale!r} with bands.", code="no_such_scale", status=409)
    wanted = [scores.band] + ([scores.neighbour] if scores.neighbour is not None else [])
    for order in wanted:
        if order not in by_order:
            raise DomainError(f"Scale {scores.scale} has no band {order}.", code="no_such_band", status=409)
    band = by_order[scores.band]
    is_inside = (band.lower is None or scores.stability >= band.lower) and (
        band.upper is None or scores.stability < band.upper
    )
    if not is_inside:
        raise DomainError(
            f"A stability of {scores.stability} does not lie in band {band.order} ({band.name}).",
            code="band_contradicts_score",
            status=409,
        )
    return band, None if scores.neighbour is None else by_order[scores.neighbour]


def _retire(shoe: Shoe, *, actor: User, reason: str) -> None:
    current = ScoreCard.objects.select_for_update().filter(shoe=shoe, is_current=True).first()
    if current is None:
        return
    before = audit.snapshot(current)
    current.is_current = False
    current.save(update_fields=["is_current"])
    audit.record(actor=actor, action="catalogue.score_card.retired", subject=current, before=before, reason=reason)


@transaction.atomic
def score_card_publish(
    *, actor: User, shoe: Shoe, scores: PublishedScores, reason: str, at: dt.datetime | None = None
) -> ScoreCard:
    """Make the scores the shoe's current card and retire the one before. Computes nothing.

    Parameters
    ----------
    at : when it was published; now where left out
    """
    if not reason.strip():
        raise DomainError(
            "Give a reason for publishing.", code="reason_required", fields={"reason": ["Give a reason."]}
        )
    # Two publications of one shoe wait for each other here, so that one current card is left.
    shoe = Shoe.objects.select_for_update().get(pk=shoe.pk)
    band, neighbour = _bands(scores)
    _retire(shoe, actor=actor, reason=reason)
    card = ScoreCard(
        shoe=shoe,
        scale=band.scale,
        band=band,
        neighbour=neighbour,
        published_at=at or timezone.now(),
        published_by=actor,
        reason=reason.strip(),
        **{name: getattr(scores, name) for name in _COPIED},
    )
    check(card)
    card.save()
    audit.record(actor=actor, action="catalogue.score_card.published", subject=card, reason=reason)
    return card


_COPIED = (
    *(f"{score}{end}" for score in ("stability", "midfoot", "rearfoot", "cushioning") for end in ("", "_u")),
    "cushioning_estimated",
    "band_probability",
    "is_borderline",
    "is_provisional",
    "specimens",
    "tested_on",
    "scoring_model",
    "protocol",
)
