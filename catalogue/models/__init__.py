"""What everyone shares: brands, shoes, stock, the scale of bands, published score cards."""

from __future__ import annotations

from catalogue.models.notices import IncidentNotice, NoticeCard
from catalogue.models.revisions import ApiAllowance, CatalogueRevision, ShoesChange
from catalogue.models.scales import Band, Scale
from catalogue.models.score_cards import ScoreCard
from catalogue.models.shoes import USES, Brand, Shoe, ShoeQuerySet, ShoeSearch, Use
from catalogue.models.stock import EU_SIZE_MAX, EU_SIZE_MIN, ShoeHolding, StockItem, StoreHolding
from catalogue.models.wall_cards import CARDS_MOST, CardsPerSheet, Paper, PrintedCard, PrintRun

__all__ = [
    "CARDS_MOST",
    "EU_SIZE_MAX",
    "EU_SIZE_MIN",
    "USES",
    "ApiAllowance",
    "Band",
    "Brand",
    "CardsPerSheet",
    "CatalogueRevision",
    "IncidentNotice",
    "NoticeCard",
    "Paper",
    "PrintRun",
    "PrintedCard",
    "Scale",
    "ScoreCard",
    "Shoe",
    "ShoeHolding",
    "ShoeQuerySet",
    "ShoeSearch",
    "ShoesChange",
    "StockItem",
    "StoreHolding",
    "Use",
]
