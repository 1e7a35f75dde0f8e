"""Shoes that were published once and then withdrawn."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from catalogue.models import ScoreCard, Shoe


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A shoe that is not published any more: since when, and why."""

    slug: str
    brand: str
    name: str
    since: dt.datetime
    reason: str

    @property
    def title(self) -> str:
        return f"{self.brand} {self.name}"

    @property
    def because(self) -> str:
        """The reason as the end of a sentence."""
        return self.reason if self.reason.endswith((".", "!", "?")) else f"{self.reason}."


def withdrawn_get(slug: str) -> Withdrawn | None:
    """Return a withdrawn shoe; None where it is published, or never was: one query."""
    cards = ScoreCard.objects.withdrawn().filter(shoe__in=Shoe.objects.withdrawn().filter(slug=slug))
    columns = ("shoe__brand__name", "shoe__name", "shoe__version", "withdrawn_at", "withdrawn_because")
    line = cards.values_list(*columns).first()
    if line is None:
        return None
    brand, name, version, since, reason = line
    return Withdrawn(slug, brand, f"{name} {version}".rstrip(), since, reason)


def withdrawn_among(slugs: list[str]) -> set[str]:
    """Return which of some shoes are withdrawn: one query."""
    return set(Shoe.objects.withdrawn().filter(slug__in=slugs).values_list("slug", flat=True))
