"""The catalogue's records in the audit trail, and its actions in words."""

from __future__ import annotations

from catalogue.models import Brand, PrintRun, ScoreCard, Shoe, ShoePhoto, ShoeWish, StockItem
from core.audit import register_action, register_record

register_record(Brand)
register_record(Shoe, related=("barcodes", "old_addresses"))
register_record(ScoreCard)
# The score beside the stock repeats the score card, which has entries of its own.
register_record(StockItem, exclude=("stability",))
register_record(PrintRun, related=("cards",))
register_record(ShoePhoto)
register_record(ShoeWish)

register_action("catalogue.brand.created", "added the brand {subject}")
register_action("catalogue.brand.corrected", "corrected the brand {subject}")
register_action("catalogue.shoe.created", "added the shoe {subject}")
register_action("catalogue.shoe.corrected", "corrected the shoe {subject}")
register_action("catalogue.shoe.discontinued", "noted that {subject} is discontinued")
register_action("catalogue.shoe.resumed", "noted that {subject} is made again")
register_action("catalogue.shoe.linked", "changed the versions before and after {subject}")
register_action("catalogue.shoe.merged", "merged the doublet {subject} into another shoe")
register_action("catalogue.shoe.took_over", "merged a doublet into {subject}")
register_action("catalogue.stock.moved", "moved stock to the shoe that stays: {subject}")
register_action("catalogue.stock.set", "set the stock: {subject}")
register_action("catalogue.score_card.published", "published the scores of {subject}")
register_action("catalogue.score_card.retired", "retired the scores of {subject}")
register_action("catalogue.print_run.recorded", "printed wall cards: {subject}")
register_action("catalogue.print_run.withdrawn", "withdrew wall cards: {subject}")
register_action("catalogue.photo.added", "added the {subject}")
register_action("catalogue.photo.replaced", "replaced the {subject}")
register_action("catalogue.photo.described", "changed the text of the {subject}")
register_action("catalogue.photo.moved", "moved a duplicate's photo: {subject}")
register_action("catalogue.photo.removed", "removed the {subject}")
register_action("catalogue.wish.asked", "asked for a shoe: {subject}")
register_action("catalogue.wish.done", "added a shoe that a store asked for: {subject}")
register_action("catalogue.wish.declined", "declined a shoe that a store asked for: {subject}")
