"""The catalogue's records in the audit trail, and its actions in words."""

from __future__ import annotations

from catalogue.models import (
    Brand,
    FaultReport,
    IncidentNotice,
    PrintRun,
    Reservation,
    ScoreCard,
    Shoe,
    ShoePhoto,
    ShoeWish,
    StockItem,
    StockTransfer,
)
from core.audit import register_action, register_record

register_record(Brand)
register_record(Shoe, related=("barcodes", "old_addresses"))
register_record(ScoreCard)
# The score beside the stock repeats the score card, which has entries of its own.
register_record(StockItem, exclude=("stability",))
register_record(StockTransfer, related=("lines",))
# The note may name a customer, who may ask to have it removed; the trail cannot be changed.
register_record(Reservation, exclude=("note",))
register_record(PrintRun, related=("cards",))
register_record(IncidentNotice, related=("cards",))
register_record(ShoePhoto)
register_record(ShoeWish, decisions=("decided",))
# Written at the counter about a shoe, but free text: a person named in it by mistake must be removable.
register_record(FaultReport, exclude=("words",))

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
register_action("catalogue.stock.received", "received pairs: {subject}")
register_action("catalogue.stock.sold", "sold pairs: {subject}")
register_action("catalogue.stock.returned", "took pairs back from a customer: {subject}")
register_action("catalogue.stock.written_off", "wrote pairs off: {subject}")
register_action("catalogue.stock.sent", "sent pairs to another store: {subject}")
register_action("catalogue.stock.arrived", "received pairs from another store: {subject}")
register_action("catalogue.stock.called_back", "took back pairs that were on the way: {subject}")
register_action("catalogue.transfer.sent", "sent the {subject}")
register_action("catalogue.transfer.received", "received the {subject}")
register_action("catalogue.transfer.called_back", "called back the {subject}")
register_action("catalogue.reservation.made", "made the {subject}")
register_action("catalogue.reservation.collected", "sold the pairs of the {subject}")
register_action("catalogue.reservation.moved", "moved to the shoe that stays: {subject}")
register_action("catalogue.reservation.released", "released the {subject}")
register_action("catalogue.score_card.published", "published the scores of {subject}")
register_action("catalogue.score_card.retired", "retired the scores of {subject}")
register_action("catalogue.score_card.withdrawn", "withdrew the scores of {subject} from the catalogue")
register_action("catalogue.incident_notice.sent", "informed the stores: {subject}")
register_action("catalogue.print_run.recorded", "printed wall cards: {subject}")
register_action("catalogue.print_run.withdrawn", "withdrew wall cards: {subject}")
register_action("catalogue.photo.added", "added the {subject}")
register_action("catalogue.photo.replaced", "replaced the {subject}")
register_action("catalogue.photo.described", "changed the text of the {subject}")
register_action("catalogue.photo.moved", "moved the photo of a duplicate: {subject}")
register_action("catalogue.photo.removed", "removed the {subject}")
register_action("catalogue.wish.asked", "asked for a shoe: {subject}")
register_action("catalogue.wish.done", "added a shoe that a store asked for: {subject}")
register_action("catalogue.fault.reported", "reported a faulty pair: {subject}")
register_action("catalogue.fault.answered", "answered {subject}")
register_action("catalogue.wish.declined", "declined a shoe that a store asked for: {subject}")
