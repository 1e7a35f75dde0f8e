"""Writes of the catalogue: brands, shoes, published score cards, stock, wall cards."""

from __future__ import annotations

from catalogue.services.photos import PhotoOvertaken, photo_describe, photo_remove, photo_set
from catalogue.services.publishing import (
    BandText,
    PublishedScores,
    brand_create,
    scale_create,
    score_card_publish,
    score_cards_replace,
    shoe_create,
)
from catalogue.services.stock import (
    Overtaken,
    StockCell,
    StockLine,
    StockOvertaken,
    stock_cells_save,
    stock_count_record,
    stock_set,
)
from catalogue.services.wall_cards import print_run_record, print_run_withdraw

__all__ = [
    "BandText",
    "Overtaken",
    "PhotoOvertaken",
    "PublishedScores",
    "StockCell",
    "StockLine",
    "StockOvertaken",
    "brand_create",
    "photo_describe",
    "photo_remove",
    "photo_set",
    "print_run_record",
    "print_run_withdraw",
    "scale_create",
    "score_card_publish",
    "score_cards_replace",
    "shoe_create",
    "stock_cells_save",
    "stock_count_record",
    "stock_set",
]
