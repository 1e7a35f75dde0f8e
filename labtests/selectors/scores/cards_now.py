"""The published cards as they are, for comparing with what they would be."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from catalogue.models import ScoreCard


@dataclass(frozen=True, slots=True)
class CardNow:
    """A published card as it is now."""

    shoe_id: int
    slug: str
    title: str
    stability: float
    stability_u: float | None
    band: int
    band_name: str
    specimens: int
    scoring_model: str


def cards_now(shoes: Collection[int] | None = None) -> list[CardNow]:
    """The published cards, or those of some shoes, in the order of names."""
    cards = ScoreCard.objects.filter(is_current=True).order_by("shoe__brand__name", "shoe__name", "shoe__version")
    if shoes is not None:
        cards = cards.filter(shoe__in=shoes)
    lines: Iterable[Sequence[Any]] = cards.values_list(
        "shoe_id",
        "shoe__slug",
        "shoe__brand__name",
        "shoe__name",
        "shoe__version",
        "stability",
        "stability_u",
        "band__order",
        "band__name",
        "specimens",
        "scoring_model",
    )
    return [
        CardNow(shoe_id, slug, f"{brand} {name} {version}".strip(), *rest)
        for shoe_id, slug, brand, name, version, *rest in lines
    ]
