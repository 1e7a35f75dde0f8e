"""Published score cards, and the scale that they are on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

from django.db import transaction
from django.utils import timezone

from catalogue.models import Band, Scale, ScoreCard, Shoe
from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.domain.quoting import quoted
from core.models import User


@dataclass(frozen=True, slots=True)
class PublishedScores:
    """What a lab publishes of a shoe: computed there, only stored here.

    `band` and `neighbour` are orders on the scale; `…_u` are standard uncertainties, None where not known, and `…_df`
    their effective degrees of freedom, None where unlimited.
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
    stability_df: float | None = None
    midfoot_df: float | None = None
    rearfoot_df: float | None = None
    cushioning_df: float | None = None
    cushioning_estimated: bool = False
    band_probability: float | None = None
    is_borderline: bool = False
    neighbour: int | None = None
    is_provisional: bool = False


def _bands(scores: PublishedScores) -> tuple[Band, Band | None]:
    """Find the bands that the scores name, and refuse ones that contradict the score."""
    by_order = {band.order: band for band in Band.objects.filter(scale__version=scores.scale).select_related("scale")}
    if not by_order:
        raise DomainError(f"There is no scale {quoted(scores.scale)} with bands.", code="no_such_scale", status=409)
    wanted = [scores.band] + ([scores.neighbour] if scores.neighbour is not None else [])
    for order in wanted:
        if order not in by_order:
            raise DomainError(f"Scale {scores.scale} has no band {order}.", code="no_such_band", status=409)
    band = by_order[scores.band]
    _check_inside(band, scores.stability)
    return band, None if scores.neighbour is None else by_order[scores.neighbour]


def _check_inside(band: Band, stability: float) -> None:
    is_inside = (band.lower is None or stability >= band.lower) and (band.upper is None or stability < band.upper)
    if not is_inside:
        raise DomainError(
            f"A stability of {stability} does not lie in band {band.order} ({band.name}).",
            code="band_contradicts_score",
            status=409,
        )


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
    required_reason(reason, asked="Give a reason for publishing.")
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
    *(f"{score}{end}" for score in ("stability", "midfoot", "rearfoot", "cushioning") for end in ("", "_u", "_df")),
    "cushioning_estimated",
    "band_probability",
    "is_borderline",
    "is_provisional",
    "specimens",
    "tested_on",
    "scoring_model",
    "protocol",
)


@dataclass(frozen=True, slots=True)
class BandText:
    """A band of a scale to be made; `lower` of the first and `upper` of the last are None."""

    name: str
    lower: float | None
    upper: float | None
    suits: str
    runner_mass_max_kg: float | None = None


@transaction.atomic
def scale_create(*, actor: User | None, version: str, bands: Sequence[BandText], reason: str) -> Scale:
    """Make a scale with its bands, lowest first, each beginning where the one before ends."""
    ends = [band.upper for band in bands[:-1]]
    if not bands or ends != [band.lower for band in bands[1:]] or bands[0].lower is not None or None in ends:
        raise DomainError("The bands must follow each other without a gap, open at both ends.", code="bands_apart")
    if bands[-1].upper is not None:
        raise DomainError("The highest band must be open above.", code="bands_apart")
    scale = Scale(version=version)
    check(scale)
    scale.save()
    for order, text in enumerate(bands, start=1):
        band = Band(scale=scale, order=order, **asdict(text))
        check(band)
        band.save()
    audit.record(actor=actor, action="catalogue.scale.created", subject=scale, reason=reason)
    return scale


@transaction.atomic
def score_cards_replace(
    *,
    actor: User,
    scores: Mapping[int, PublishedScores | None],
    scale: Scale,
    reason: str,
    at: dt.datetime,
    withdrawn_because: str = "",
) -> list[ScoreCard]:
    """Replace the current cards of many shoes at once by cards on one scale. Computes nothing.

    Parameters
    ----------
    scores : by shoe; None withdraws the shoe: no card follows, and its page says why
    withdrawn_because : the reason on the pages of withdrawn shoes; `reason` where left out
    """
    list(Shoe.objects.select_for_update().filter(pk__in=scores).order_by("pk").values_list("pk", flat=True))
    bands = {band.order: band for band in scale.bands.all()}
    retired = list(ScoreCard.objects.select_for_update().filter(shoe__in=scores, is_current=True).order_by("pk"))
    before = audit.snapshots(ScoreCard, [card.pk for card in retired])
    ScoreCard.objects.filter(pk__in=before).update(is_current=False)
    withdrawn = {shoe for shoe, given in scores.items() if given is None}
    ScoreCard.objects.filter(pk__in=before, shoe__in=withdrawn).update(
        withdrawn_at=at, withdrawn_because=withdrawn_because or reason
    )
    fresh = [_card(shoe, given, bands) for shoe, given in scores.items() if given is not None]
    for card in fresh:
        card.scale, card.published_at, card.published_by, card.reason = scale, at, actor, reason
    ScoreCard.objects.bulk_create(fresh)
    shoes = Shoe.objects.in_bulk(scores)
    for card in (*retired, *fresh):
        card.shoe = shoes[card.shoe_id]
    ended = {shoe: "withdrawn" if shoe in withdrawn else "retired" for shoe in scores}
    gone = [
        audit.Change(f"catalogue.score_card.{ended[card.shoe_id]}", card, before[card.pk], reason) for card in retired
    ]
    come = [audit.Change("catalogue.score_card.published", card, None, reason) for card in fresh]
    audit.record_many([*gone, *come], actor=actor)
    return fresh


def _card(shoe_id: int, scores: PublishedScores, bands: Mapping[int, Band]) -> ScoreCard:
    neighbour = None if scores.neighbour is None else bands[scores.neighbour]
    copied = {name: getattr(scores, name) for name in _COPIED}
    card = ScoreCard(shoe_id=shoe_id, band=bands[scores.band], neighbour=neighbour, **copied)
    _check_inside(bands[scores.band], scores.stability)
    return card
