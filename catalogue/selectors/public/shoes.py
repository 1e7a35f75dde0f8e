"""Single published shoes, what came before them, and what the published cards come from."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, Max, Min, Sum

from catalogue.models import ScoreCard
from catalogue.selectors.public.columns import columns_at
from catalogue.selectors.public.revision import Revision
from catalogue.selectors.public.rows import SCORES, ShoeRow, current_cards, shoe_by_slug, shoe_rows
from core.domain.errors import DomainError
from core.domain.quoting import quoted


@dataclass(frozen=True, slots=True)
class Rank:
    """How many published shoes have a lower score, of how many others."""

    lower: int
    others: int


@dataclass(frozen=True, slots=True)
class OtherVersion:
    slug: str
    title: str
    is_newer: bool


@dataclass(frozen=True, slots=True)
class ModelInUse:
    """What the published cards come from, with how many shoes and specimens and the span of their test days."""

    protocol: str
    scoring_model: str
    scale: str
    shoes: int
    specimens: int
    first: dt.date
    last: dt.date


@dataclass(frozen=True, slots=True)
class PastCard:
    """A published score card that a newer one replaced, or the current one."""

    published_at: dt.datetime
    stability: float
    band: str
    specimens: int
    scoring_model: str
    is_current: bool


def shoe_get(slug: str) -> ShoeRow:
    """Return one published shoe, or raise a 404."""
    row = shoe_by_slug(slug)
    if row is None:
        raise DomainError(f"There is no published shoe {quoted(slug)}.", code="not_found", status=404)
    return row


def is_discontinued(slug: str, *, revision: Revision) -> bool:
    """Say whether a published shoe is no longer made, or raise a 404: no query."""
    columns = columns_at(revision)
    if slug not in columns.rows:
        raise DomainError(f"There is no published shoe {quoted(slug)}.", code="not_found", status=404)
    return bool(columns.is_discontinued[columns.rows[slug]])


def shoes_by_slug(slugs: Sequence[str]) -> list[ShoeRow]:
    """Return the published ones of these shoes, in the order asked."""
    rows = {row.slug: row for row in shoe_rows(current_cards().filter(shoe__slug__in=slugs))}
    return [rows[slug] for slug in slugs if slug in rows]


def ranks_for_shoe(slug: str, *, revision: Revision) -> dict[str, Rank]:
    """Return the place of each score among the published shoes."""
    columns = columns_at(revision)
    if slug not in columns.rows:
        raise DomainError(f"There is no published shoe {quoted(slug)}.", code="not_found", status=404)
    row = columns.rows[slug]
    lower = (columns.values[:, : len(SCORES)] < columns.values[row, : len(SCORES)]).sum(axis=0)
    return {name: Rank(int(count), columns.count - 1) for name, count in zip(SCORES, lower, strict=True)}


def versions_for_shoe(shoe: ShoeRow) -> list[OtherVersion]:
    """Return the published versions of a shoe next to it: the one before and the one after."""
    columns = ("shoe__slug", "shoe__brand__name", "shoe__name", "shoe__version", "shoe__previous_id")
    # Each by its index; asked for together with "or" the database would look through all shoes.
    before, after = (
        current_cards().filter(**{way: shoe.id}).order_by().values_list(*columns)
        for way in ("shoe__next", "shoe__previous")
    )
    lines = before.union(after).order_by("shoe__slug")
    return [
        OtherVersion(slug, f"{brand} {name} {version}".rstrip(), is_newer=previous == shoe.id)
        for slug, brand, name, version, previous in lines
    ]


def models_in_use() -> list[ModelInUse]:
    """Return which protocols, scoring models and scales the published cards come from."""
    lines = (
        current_cards()
        .order_by()
        .values_list("protocol", "scoring_model", "scale__version")
        .annotate(Count("id"), Sum("specimens"), Min("tested_on"), Max("tested_on"))
    )
    return sorted(
        (ModelInUse(*line) for line in lines), key=lambda line: (line.protocol, line.scoring_model, line.scale)
    )


def history_for_shoe(shoe: ShoeRow) -> list[PastCard]:
    """Return what was published of a shoe, newest first."""
    cards = ScoreCard.objects.filter(shoe_id=shoe.id).order_by("-is_current", "-published_at", "-id")
    return [
        PastCard(*line)
        for line in cards.values_list(
            "published_at", "stability", "band__name", "specimens", "scoring_model", "is_current"
        )
    ]
