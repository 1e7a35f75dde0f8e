"""The shoes as SVG, drawn on the server with real links."""

from __future__ import annotations

from catalogue.drawings.comparison import comparison_markup
from catalogue.drawings.curves import curves_markup
from catalogue.drawings.density import Density, density_of
from catalogue.drawings.pictures import catalogue_picture, shoe_picture
from catalogue.drawings.scale import (
    STRIP,
    STRIP_SMALL,
    TALL,
    TALL_CROWDED,
    WIDE,
    draw,
    markup,
    scale_markup,
    scale_styles,
)
from catalogue.drawings.score_distribution import score_distribution_markup
from catalogue.drawings.score_map import score_map_markup
from catalogue.drawings.shapes import COUNTED_FROM
from catalogue.drawings.silhouette import silhouette_markup
from catalogue.drawings.wear import wear_markup

__all__ = [
    "COUNTED_FROM",
    "STRIP",
    "STRIP_SMALL",
    "TALL",
    "TALL_CROWDED",
    "WIDE",
    "Density",
    "catalogue_picture",
    "comparison_markup",
    "curves_markup",
    "density_of",
    "draw",
    "markup",
    "scale_markup",
    "scale_styles",
    "score_distribution_markup",
    "score_map_markup",
    "shoe_picture",
    "silhouette_markup",
    "wear_markup",
]
