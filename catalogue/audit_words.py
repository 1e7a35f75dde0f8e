"""The catalogue's records in the audit trail, and its actions in words."""

from __future__ import annotations

from catalogue.models import Brand, IncidentNotice, PrintRun, ScoreCard, Shoe, StockItem
from core.audit import register_action, register_record

register_record(Brand)
register_record(Shoe)
register_record(ScoreCard)
# The score beside the stock repeats the score card, which has entries of its own.
register_record(StockItem, exclude=("stability",))
register_record(PrintRun, related=("cards",))
register_record(IncidentNotice, related=("cards",))

register_action("catalogue.brand.created", "added the brand {subject}")
register_action("catalogue.shoe.created", "added the shoe {subject}")
register_action("catalogue.stock.set", "set the stock: {subject}")
register_action("catalogue.score_card.published", "published the scores of {subject}")
register_action("catalogue.score_card.retired", "retired the scores of {subject}")
register_action("catalogue.score_card.withdrawn", "withdrew the scores of {subject} from the catalogue")
register_action("catalogue.incident_notice.sent", "informed the stores: {subject}")
register_action("catalogue.print_run.recorded", "printed wall cards: {subject}")
register_action("catalogue.print_run.withdrawn", "withdrew wall cards: {subject}")
