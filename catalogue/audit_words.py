"""The catalogue's records in the audit trail, and its actions in words."""

from __future__ import annotations

from catalogue.models import Brand, PrintRun, ScoreCard, Shoe, StockItem
from core.audit import register_action, register_record

register_record(Brand)
register_record(Shoe, related=("barcodes", "old_addresses"))
register_record(ScoreCard)
# The score beside the stock repeats the score card, which has entries of its own.
register_record(StockItem, exclude=("stability",))
register_record(PrintRun, related=("cards",))

register_action("catalogue.brand.created", "added the brand {subject}")
register_action("catalogue.brand.corrected", "corrected the brand {subject}")
register_action("catalogue.shoe.created", "added the shoe {subject}")
register_action("catalogue.shoe.corrected", "corrected the shoe {subject}")
register_action("catalogue.shoe.discontinued", "noted that {subject} is discontinued")
register_action("catalogue.shoe.resumed", "noted that {subject} is made again")
register_action("catalogue.shoe.linked", "changed the versions before and after {subject}")
register_action("catalogue.shoe.merged", "merged the duplicate {subject} into another shoe")
register_action("catalogue.shoe.took_over", "merged a duplicate into {subject}")
register_action("catalogue.stock.moved", "moved stock to the shoe that stays: {subject}")
register_action("catalogue.stock.set", "set the stock: {subject}")
register_action("catalogue.score_card.published", "published the scores of {subject}")
register_action("catalogue.score_card.retired", "retired the scores of {subject}")
register_action("catalogue.print_run.recorded", "printed wall cards: {subject}")
register_action("catalogue.print_run.withdrawn", "withdrew wall cards: {subject}")
