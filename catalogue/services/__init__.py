"""Writes of the catalogue: brands, shoes, published score cards, stock, wall cards."""

from __future__ import annotations

from catalogue.services.public.curves import PublishedCurve, score_curves_replace
from catalogue.services.public.incident_notices import incident_notice_send, taken_back_notice_send
from catalogue.services.public.publishing import (
    BandText,
    PublishedScores,
    scale_create,
    score_card_publish,
    score_cards_replace,
)
from catalogue.services.records.faults import fault_answer, fault_report
from catalogue.services.records.merging import register_mover, shoe_merge
from catalogue.services.records.photos import PhotoOvertaken, photo_describe, photo_remove, photo_set
from catalogue.services.records.shoe_rules import Barcode, Duplicate
from catalogue.services.records.shoes import (
    ShoeOvertaken,
    brand_correct,
    brand_create,
    shoe_correct,
    shoe_create,
    shoe_discontinue,
    shoe_edition,
    shoe_link,
)
from catalogue.services.records.wishes import wish_ask, wish_decline, wish_done
from catalogue.services.stock.reservations import reservation_close, reservation_make, reservation_notes_clear
from catalogue.services.stock.stock import (
    Overtaken,
    StockCell,
    StockLine,
    StockOvertaken,
    stock_cells_save,
    stock_count_record,
)
from catalogue.services.stock.stock_moves import Pairs, stock_move
from catalogue.services.stock.transfers import transfer_call_back, transfer_receive, transfer_send
from catalogue.services.stock.wall_cards import print_run_record, print_run_withdraw

__all__ = [
    "BandText",
    "Barcode",
    "Duplicate",
    "Overtaken",
    "Pairs",
    "PhotoOvertaken",
    "PublishedCurve",
    "PublishedScores",
    "ShoeOvertaken",
    "StockCell",
    "StockLine",
    "StockOvertaken",
    "brand_correct",
    "brand_create",
    "fault_answer",
    "fault_report",
    "incident_notice_send",
    "photo_describe",
    "photo_remove",
    "photo_set",
    "print_run_record",
    "print_run_withdraw",
    "register_mover",
    "reservation_close",
    "reservation_make",
    "reservation_notes_clear",
    "scale_create",
    "score_card_publish",
    "score_cards_replace",
    "score_curves_replace",
    "shoe_correct",
    "shoe_create",
    "shoe_discontinue",
    "shoe_edition",
    "shoe_link",
    "shoe_merge",
    "stock_cells_save",
    "stock_count_record",
    "stock_move",
    "taken_back_notice_send",
    "transfer_call_back",
    "transfer_receive",
    "transfer_send",
    "wish_ask",
    "wish_decline",
    "wish_done",
]
