"""Reads of the catalogue: values in frozen dataclasses, not models."""

from __future__ import annotations

from catalogue.selectors.candidates import Candidate, candidates
from catalogue.selectors.revision import revision
from catalogue.selectors.rows import BandView, Score, ShoeRow, StoreSizes
from catalogue.selectors.scales import BandRow, band_list
from catalogue.selectors.shoes import (
    FilterCounts,
    SpectrumPoint,
    filter_counts,
    history_for_shoe,
    matching_count,
    models_in_use,
    ranks_for_shoe,
    shoe_get,
    shoe_list,
    shoes_by_slug,
    spectrum_points,
    versions_for_shoe,
)
from catalogue.selectors.similar import Similar, compare, similar_count, similar_to
from catalogue.selectors.stores import StoreRow, stock_for_store, store_get, store_list

__all__ = [
    "BandRow",
    "BandView",
    "Candidate",
    "FilterCounts",
    "Score",
    "ShoeRow",
    "Similar",
    "SpectrumPoint",
    "StoreRow",
    "StoreSizes",
    "band_list",
    "candidates",
    "compare",
    "filter_counts",
    "history_for_shoe",
    "matching_count",
    "models_in_use",
    "ranks_for_shoe",
    "revision",
    "shoe_get",
    "shoe_list",
    "shoes_by_slug",
    "similar_count",
    "similar_to",
    "spectrum_points",
    "stock_for_store",
    "store_get",
    "store_list",
    "versions_for_shoe",
]
