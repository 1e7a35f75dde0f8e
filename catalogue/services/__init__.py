"""Writes of the catalogue: brands, shoes, published score cards, stock, wall cards."""

from __future__ import annotations

from catalogue.services.notices import incident_notice_send
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
    "PublishedScores",
    "StockCell",
    "StockLine",
    "StockOvertaken",
    "brand_create",
    "incident_notice_send",
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
