"""The catalogue in words: what templates show, formatted before they are reached (far faster than in them)."""

from __future__ import annotations

from catalogue.presentation.comparing import compared_rows, other_options, similar_text
from catalogue.presentation.detail import band_lines, band_notes, measured_facts, score_texts, shoe_facts, stock_lines
from catalogue.presentation.lists import (
    Option,
    band_options,
    chips,
    everything_address,
    list_address,
    order_options,
    plain,
    range_fields,
    size_options,
    store_options,
    summary,
    use_options,
)
from catalogue.presentation.shoes import ShoeText, point_of, shoe_text, shoe_url

__all__ = [
    "Option",
    "ShoeText",
    "band_lines",
    "band_notes",
    "band_options",
    "chips",
    "compared_rows",
    "everything_address",
    "list_address",
    "measured_facts",
    "order_options",
    "other_options",
    "plain",
    "point_of",
    "range_fields",
    "score_texts",
    "shoe_facts",
    "shoe_text",
    "shoe_url",
    "similar_text",
    "size_options",
    "stock_lines",
    "store_options",
    "summary",
    "use_options",
]
