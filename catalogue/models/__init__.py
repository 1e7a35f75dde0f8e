"""What everyone shares: brands, shoes, stock, the scale of bands, published score cards."""

from __future__ import annotations

from catalogue.models.faults import FaultReport
from catalogue.models.notices import IncidentNotice, NoticeCard
from catalogue.models.photos import ALTERNATIVE_TEXT_MAX_LENGTH, ShoePhoto
from catalogue.models.reservations import Reservation
from catalogue.models.revisions import ApiAllowance, CatalogueRevision, ShoesChange
from catalogue.models.scales import Band, Scale
from catalogue.models.score_cards import ScoreCard
from catalogue.models.score_curves import CurveKind, ScoreCurve
from catalogue.models.shoes import (
    USES,
    WEARERS,
    WIDTH_MAX_LENGTH,
    Brand,
    Shoe,
    ShoeAddress,
    ShoeBarcode,
    ShoeQuerySet,
    ShoeSearch,
    Use,
    Wearer,
)
from catalogue.models.sizes import EU_SIZE_MAX, EU_SIZE_MIN
from catalogue.models.stock import ShoeHolding, StockItem, StoreHolding
from catalogue.models.stock_movements import MovementKind, StockMovement, StockTransfer, TransferLine
from catalogue.models.wall_cards import CARDS_MOST, CardsPerSheet, Paper, PrintedCard, PrintRun
from catalogue.models.wishes import NOTE_MAX_LENGTH, REASON_MAX_LENGTH, ShoeWish, WishState

__all__ = [
    "ALTERNATIVE_TEXT_MAX_LENGTH",
    "CARDS_MOST",
    "EU_SIZE_MAX",
    "EU_SIZE_MIN",
    "NOTE_MAX_LENGTH",
    "REASON_MAX_LENGTH",
    "USES",
    "WEARERS",
    "WIDTH_MAX_LENGTH",
    "ApiAllowance",
    "Band",
    "Brand",
    "CardsPerSheet",
    "CatalogueRevision",
    "CurveKind",
    "FaultReport",
    "IncidentNotice",
    "MovementKind",
    "NoticeCard",
    "Paper",
    "PrintRun",
    "PrintedCard",
    "Reservation",
    "Scale",
    "ScoreCard",
    "ScoreCurve",
    "Shoe",
    "ShoeAddress",
    "ShoeBarcode",
    "ShoeHolding",
    "ShoePhoto",
    "ShoeQuerySet",
    "ShoeSearch",
    "ShoeWish",
    "ShoesChange",
    "StockItem",
    "StockMovement",
    "StockTransfer",
    "StoreHolding",
    "TransferLine",
    "Use",
    "Wearer",
    "WishState",
]
