"""What readers and managers send."""

from __future__ import annotations

from catalogue.forms.query import (
    COMPARED_MOST,
    BadQuery,
    Choices,
    Nearby,
    WallAsked,
    compared_slugs,
    named_slugs,
    nearby,
    page_beyond,
    page_number,
    shoe_filter,
    unknown_shoes,
    wall_asked,
    without_bad_keys,
    words,
)

__all__ = [
    "COMPARED_MOST",
    "BadQuery",
    "Choices",
    "Nearby",
    "WallAsked",
    "compared_slugs",
    "named_slugs",
    "nearby",
    "page_beyond",
    "page_number",
    "shoe_filter",
    "unknown_shoes",
    "wall_asked",
    "without_bad_keys",
    "words",
]
