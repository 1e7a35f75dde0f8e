"""The shoe that somebody wears now, with its published score where it has one."""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.models import ScoreCard, Shoe


@dataclass(frozen=True, slots=True)
class WornShoe:
    """A shoe of the catalogue; `card` is None where it has no published score."""

    shoe: Shoe
    card: ScoreCard | None


def worn_shoe(slug: str | None) -> WornShoe | None:
    """Read the shoe at an address, with its score: two queries, none without an address."""
    shoe = Shoe.objects.select_related("brand").filter(slug=slug).first() if slug else None
    return None if shoe is None else worn_with_card(shoe)


def worn_with_card(shoe: Shoe) -> WornShoe:
    return WornShoe(shoe, ScoreCard.objects.filter(shoe=shoe, is_current=True).first())
