"""What readers and managers send."""

from __future__ import annotations

from catalogue.forms.query import (
    COMPARED_MOST,
    BadQuery,
    Choices,
    Nearby,
    compared_slugs,
    nearby,
    page_beyond,
    page_number,
    shoe_filter,
    unknown_shoes,
    without_bad_keys,
    words,
)

__all__ = [
    "COMPARED_MOST",
    "BadQuery",
    "Choices",
    "Nearby",
    "compared_slugs",
    "nearby",
    "page_beyond",
    "page_number",
    "shoe_filter",
    "unknown_shoes",
    "without_bad_keys",
    "words",
]
