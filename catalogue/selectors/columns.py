"""Every published shoe as columns in memory, read once for each change of the shoes.

Filters, counts, orders, drawings and nearness all ask of every shoe at once: arrays answer that in well under a
millisecond where a hundred thousand rows of the database would take a tenth of a second.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from catalogue.domain.sieve import Bools, Floats, Ints
from catalogue.filters import USES
from catalogue.selectors.revision import kept_with_shoes
from catalogue.selectors.rows import SCORES, current_cards

_NUMBERS = (*SCORES, "shoe__mass_g", "shoe__drop_mm", *(f"{name}_u" for name in SCORES))
_TEXTS = ("shoe__slug", "shoe__brand__name", "shoe__name", "shoe__version", "shoe__use", "band__name")


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """The published shoes by slug, one row each.

    `values` and `u` have the columns of `similarity.FEATURES`, shape (n, 6), nan where not known. `place` leads from
    the id of a shoe to its row, or −1.
    """

    ids: Ints
    place: Ints
    rows: dict[str, int]
    slugs: tuple[str, ...]
    brands: tuple[str, ...]
    names: tuple[str, ...]
    versions: tuple[str, ...]
    band_names: tuple[str, ...]
    band: Ints
    use: Ints
    is_discontinued: Bools
    values: Floats
    u: Floats
    by_name: Floats

    @property
    def count(self) -> int:
        return len(self.slugs)

    def title(self, row: int) -> str:
        return f"{self.brands[row]} {self.names[row]} {self.versions[row]}".rstrip()

    def among(self, shoe_ids: Iterable[int]) -> Bools:
        """Say for every row whether its shoe is one of these; ids that are not published are let be."""
        found: Bools = np.zeros(self.count, dtype=np.bool_)
        wanted = np.fromiter(shoe_ids, dtype=np.intp)
        places = self.place[wanted[wanted < len(self.place)]]
        found[places[places >= 0]] = True
        return found


def _ranks(keys: list[tuple[str, ...]]) -> Floats:
    """Return the place of each row in order of its key."""
    order = sorted(range(len(keys)), key=lambda row: keys[row])
    ranks = np.empty(len(keys), dtype=np.float64)
    ranks[order] = np.arange(len(keys))
    return ranks


def _columns() -> Columns:
    lines = list(
        current_cards()
        .order_by("shoe__slug")
        .values_list(*_TEXTS, "shoe_id", "band__order", "shoe__is_discontinued", *_NUMBERS)
    )
    slugs, brands, names, versions, uses, band_names, ids, band, is_discontinued, *numbers = (
        zip(*lines, strict=True) if lines else ((),) * (len(_TEXTS) + 3 + len(_NUMBERS))
    )
    known = np.array(numbers, dtype=np.float64).T
    place = np.full(max(ids, default=-1) + 1, -1, dtype=np.intp)
    place[list(ids)] = np.arange(len(ids))
    keys = zip(brands, names, versions, strict=True)
    return Columns(
        ids=np.array(ids, dtype=np.intp),
        place=place,
        rows={slug: row for row, slug in enumerate(slugs)},
        slugs=slugs,
        brands=brands,
        names=names,
        versions=versions,
        band_names=band_names,
        band=np.array(band, dtype=np.intp),
        use=np.array([USES.index(use) for use in uses], dtype=np.intp),
        is_discontinued=np.array(is_discontinued, dtype=np.bool_),
        values=known[:, :6],
        # Mass and drop are stated, not tested: nothing is known of their uncertainty.
        u=np.hstack([known[:, 6:], np.full((len(lines), 2), np.nan)]),
        by_name=_ranks([(brand.casefold(), name.casefold(), version) for brand, name, version in keys]),
    )


columns_at = kept_with_shoes(_columns)
