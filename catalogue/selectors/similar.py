"""Which published shoes are alike. The table of features is kept a revision long: it is what takes time to read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from catalogue.domain import similarity
from catalogue.domain.similarity import Difference, Floats
from catalogue.selectors.revision import kept
from catalogue.selectors.rows import SCORES, ShoeRow, current_cards
from catalogue.selectors.shoes import shoes_by_slug
from core.errors import DomainError


@dataclass(frozen=True, slots=True)
class FeatureTable:
    """Every published shoe: row by slug, the values of `similarity.FEATURES`, their standard uncertainties."""

    rows: dict[str, int]
    slugs: tuple[str, ...]
    values: Floats
    u: Floats


@dataclass(frozen=True, slots=True)
class Similar:
    """A near shoe, how far it is, and how each feature differs from the shoe asked about."""

    shoe: ShoeRow
    distance: float
    differences: tuple[Difference, ...]


def _feature_table() -> FeatureTable:
    lines = list(
        current_cards()
        .order_by("shoe__slug")
        .values_list("shoe__slug", *SCORES, "shoe__mass_g", "shoe__drop_mm", *(f"{name}_u" for name in SCORES))
    )
    slugs = tuple(line[0] for line in lines)
    cells = np.array([line[1:] for line in lines], dtype=np.float64).reshape(len(lines), 10)
    # Mass and drop are stated, not tested: nothing is known of their uncertainty.
    unknown = np.full((len(lines), 2), np.nan)
    return FeatureTable(
        rows={slug: row for row, slug in enumerate(slugs)},
        slugs=slugs,
        values=cells[:, :6],
        u=np.hstack([cells[:, 6:], unknown]),
    )


feature_table_at = kept(_feature_table)


def _row(table: FeatureTable, slug: str) -> int:
    if slug not in table.rows:
        raise DomainError(f"There is no published shoe {slug!r}.", code="not_found", status=404)
    return table.rows[slug]


def similar_count(slug: str, *, revision: str) -> int:
    """Return how many other shoes can be compared with one."""
    table = feature_table_at(revision)
    return len(similarity.nearest(table.values, table.u, _row(table, slug)))


def similar_to(slug: str, *, revision: str, limit: int, offset: int = 0) -> list[Similar]:
    """Return the published shoes nearest to one, nearest first."""
    table = feature_table_at(revision)
    here = _row(table, slug)
    near = similarity.nearest(table.values, table.u, here, offset + limit)[offset:]
    shoes = {shoe.slug: shoe for shoe in shoes_by_slug([table.slugs[other.index] for other in near])}
    return [
        Similar(
            shoe=shoes[table.slugs[other.index]],
            distance=other.distance,
            differences=similarity.explain(table.values, table.u, here, other.index),
        )
        for other in near
        if table.slugs[other.index] in shoes
    ]


def compare(slugs: Sequence[str], *, revision: str) -> list[tuple[Difference, ...]]:
    """Return how each shoe after the first differs from the first."""
    table = feature_table_at(revision)
    first, *others = [_row(table, slug) for slug in slugs]
    return [similarity.explain(table.values, table.u, first, other) for other in others]
