"""Reads of the catalogue: values in frozen dataclasses, not models."""

from __future__ import annotations

from catalogue.selectors.public.candidates import Candidate, Question, candidate_rows, candidates, candidates_sql
from catalogue.selectors.public.columns import Columns, columns_at
from catalogue.selectors.public.listing import ListedShoe, listed_shoes
from catalogue.selectors.public.revision import Revision, revision
from catalogue.selectors.public.rows import BandView, Score, ShoeRow, StoreSizes, shoes_by_id
from catalogue.selectors.public.scales import BandRow, band_list
from catalogue.selectors.public.selection import (
    FilterCounts,
    Selection,
    ShoePoint,
    select_shoes,
    shoe_ids_in_stock,
    shoe_ids_named,
)
from catalogue.selectors.public.shoes import (
    history_for_shoe,
    is_discontinued,
    models_in_use,
    ranks_for_shoe,
    shoe_get,
    shoes_by_slug,
    versions_for_shoe,
)
from catalogue.selectors.public.similar import Available, Similar, SimilarPage, compare, similar_page
from catalogue.selectors.public.stores import (
    StoreRow,
    shoes_by_band,
    sizes_in_stock_anywhere,
    stock_for_store,
    store_get,
    store_list,
)
from catalogue.selectors.public.suggesting import did_you_mean
from catalogue.selectors.public.withdrawals import Withdrawn, withdrawn_among, withdrawn_get

__all__ = [
    "Available",
    "BandRow",
    "BandView",
    "Candidate",
    "Columns",
    "FilterCounts",
    "ListedShoe",
    "Question",
    "Revision",
    "Score",
    "Selection",
    "ShoePoint",
    "ShoeRow",
    "Similar",
    "SimilarPage",
    "StoreRow",
    "StoreSizes",
    "Withdrawn",
    "band_list",
    "candidate_rows",
    "candidates",
    "candidates_sql",
    "columns_at",
    "compare",
    "did_you_mean",
    "history_for_shoe",
    "is_discontinued",
    "listed_shoes",
    "models_in_use",
    "ranks_for_shoe",
    "revision",
    "select_shoes",
    "shoe_get",
    "shoe_ids_in_stock",
    "shoe_ids_named",
    "shoes_by_band",
    "shoes_by_id",
    "shoes_by_slug",
    "similar_page",
    "sizes_in_stock_anywhere",
    "stock_for_store",
    "store_get",
    "store_list",
    "versions_for_shoe",
    "withdrawn_among",
    "withdrawn_get",
]
