"""Lists of published shoes, what the filters would leave, and the points of the spectrum."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import BooleanField, Case, Count, Max, Min, Q, Sum, Value, When

from catalogue.domain.similarity import COVERAGE_K
from catalogue.filters import USES, ShoeFilter
from catalogue.models import ScoreCard
from catalogue.selectors.rows import SCORES, ShoeRow, current_cards, shoe_rows
from core.errors import DomainError


@dataclass(frozen=True, slots=True)
class FilterCounts:
    """How many shoes a filter leaves.

    `by_band` and `by_use` count what each choice would leave with the rest of the filter as it is; `let_go` what
    would be left without one part of it.
    """

    published: int
    matching: int
    by_band: Mapping[int, int]
    by_use: Mapping[str, int]
    let_go: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class SpectrumPoint:
    """A published shoe as it stands on the spectrum; `is_match` says whether the filter leaves it."""

    slug: str
    brand: str
    name: str
    version: str
    stability: float
    expanded_u: float | None
    band_order: int
    band_name: str
    is_match: bool

    @property
    def title(self) -> str:
        return f"{self.brand} {self.name} {self.version}".rstrip()


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


def filter_counts(wanted: ShoeFilter, bands: Sequence[int]) -> FilterCounts:
    """Count in one query what the filter leaves, by band, by use, and without each of its parts."""
    any_band, any_use = wanted.without("band").condition(), wanted.without("use").condition()
    counted: dict[str, Q] = {"matching": wanted.condition()}
    counted |= {f"band_{order}": any_band & Q(band__order=order) for order in bands}
    counted |= {f"use_{use}": any_use & Q(shoe__use=use) for use in USES}
    counted |= {f"without_{part}": wanted.without(part).condition() for part in wanted.active()}
    found: dict[str, int] = current_cards().aggregate(
        published=Count("id"), **{name: Count("id", filter=condition) for name, condition in counted.items()}
    )
    return FilterCounts(
        published=found["published"],
        matching=found["matching"],
        by_band={order: found[f"band_{order}"] for order in bands},
        by_use={use: found[f"use_{use}"] for use in USES},
        let_go={part: found[f"without_{part}"] for part in wanted.active()},
    )


def matching_count(wanted: ShoeFilter) -> int:
    """Count what the filter leaves."""
    return current_cards().filter(wanted.condition()).count()


def shoe_list(wanted: ShoeFilter, *, limit: int, offset: int = 0) -> list[ShoeRow]:
    """Return one page of the published shoes that a filter leaves, with their stock: two queries."""
    cards = current_cards().filter(wanted.condition()).order_by(*wanted.ordering())
    return shoe_rows(cards[offset : offset + limit])


def spectrum_points(wanted: ShoeFilter) -> list[SpectrumPoint]:
    """Return every published shoe as a point, flexible first, with whether the filter leaves it: one query."""
    condition = wanted.condition()
    is_match = (
        Case(When(condition, then=True), default=False, output_field=BooleanField())
        if condition
        else Value(True, output_field=BooleanField())
    )
    lines = (
        current_cards()
        .annotate(is_match=is_match)
        .order_by("stability", "shoe__slug")
        .values_list(
            "shoe__slug",
            "shoe__brand__name",
            "shoe__name",
            "shoe__version",
            "stability",
            "stability_u",
            "band__order",
            "band__name",
            "is_match",
        )
    )
    return [
        SpectrumPoint(slug, brand, name, version, stability, None if u is None else COVERAGE_K * u, *rest)
        for slug, brand, name, version, stability, u, *rest in lines
    ]


def shoe_get(slug: str) -> ShoeRow:
    """Return one published shoe, or raise a 404."""
    rows = shoe_rows(current_cards().filter(shoe__slug=slug))
    if not rows:
        raise DomainError(f"There is no published shoe {slug!r}.", code="not_found", status=404)
    return rows[0]


def shoes_by_slug(slugs: Sequence[str]) -> list[ShoeRow]:
    """Return the published ones of these shoes, in the order asked."""
    rows = {row.slug: row for row in shoe_rows(current_cards().filter(shoe__slug__in=slugs))}
    return [rows[slug] for slug in slugs if slug in rows]


def ranks_for_shoe(shoe: ShoeRow) -> dict[str, Rank]:
    """Return how each score stands among the published shoes."""
    found = current_cards().aggregate(
        others=Count("id", filter=~Q(shoe_id=shoe.id)),
        **{
            name: Count("id", filter=Q(**{f"{name}__lt": score.value}) & ~Q(shoe_id=shoe.id))
            for name, score in shoe.scores().items()
        },
    )
    return {name: Rank(found[name], found["others"]) for name in SCORES}


def versions_for_shoe(shoe: ShoeRow) -> list[OtherVersion]:
    """Return the published versions of a shoe next to it: the one before and the one after."""
    beside = current_cards().filter(Q(shoe__next=shoe.id) | Q(shoe__previous=shoe.id))
    lines = beside.order_by("shoe__slug").values_list(
        "shoe__slug", "shoe__brand__name", "shoe__name", "shoe__version", "shoe__previous_id"
    )
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
