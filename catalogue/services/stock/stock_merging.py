"""What the stores hold, promised and moved of a duplicate goes to the shoe that it is merged into."""

from __future__ import annotations

from catalogue.models import Reservation, Shoe, StockItem, StockMovement
from catalogue.services.records.merging import register_mover
from core import audit
from core.database.validation import check
from core.gate import row_scope
from core.models import Store, User


def stock_follow(*, actor: User, duplicate: Shoe, into: Shoe, reason: str) -> None:
    """Move stock, its history and open reservations, under the same locks as every other change of stock.

    The pairs have arrived in the history already, so adding up the two lines of stock writes no movement: the movements
    of a store still add up to its stock. Pairs on the way join the shoe that stays when they arrive.
    """
    stores = list(Store.objects.select_for_update(no_key=True).order_by("pk"))
    _move_stock(actor, duplicate, into, reason)
    StockMovement.objects.filter(shoe=duplicate).update(shoe=into)
    # Reservations are visible to their own store alone; here nobody reads them, and the shoe is all that changes.
    with row_scope.stores(store.pk for store in stores):
        _move_reservations(actor, duplicate, into, reason)


def _move_stock(actor: User, duplicate: Shoe, into: Shoe, reason: str) -> None:
    """Add a store's pairs of the duplicate to its pairs of the shoe that stays, size by size."""
    held = {(item.store_id, item.size_eu): item for item in _locked_lines(into)}
    for item in _locked_lines(duplicate):
        same = held.get((item.store_id, item.size_eu))
        _add(actor, same or StockItem(store=item.store, shoe=into, size_eu=item.size_eu, quantity=0), item.quantity)
        _remove(actor, item, reason)


def _locked_lines(shoe: Shoe) -> list[StockItem]:
    return list(StockItem.objects.select_for_update(of=("self",)).filter(shoe=shoe).select_related("store"))


def _add(actor: User, item: StockItem, pairs: int) -> None:
    before = audit.snapshot(item) if item.pk else None
    item.quantity += pairs
    check(item)
    item.save()
    audit.record(actor=actor, action="catalogue.stock.set", subject=item, before=before, store=item.store)


def _remove(actor: User, item: StockItem, reason: str) -> None:
    before, pk = audit.snapshot(item), item.pk
    item.delete()
    item.pk = pk
    action = "catalogue.stock.moved"
    audit.record(actor=actor, action=action, subject=item, before=before, store=item.store, reason=reason)


def _move_reservations(actor: User, duplicate: Shoe, into: Shoe, reason: str) -> None:
    rows = Reservation.objects.select_for_update(of=("self",)).select_related("store")
    held = list(rows.filter(shoe=duplicate, closed_at__isnull=True).order_by("pk"))
    before = audit.snapshots(Reservation, [row.pk for row in held])
    for row in held:
        row.shoe = into
    Reservation.objects.bulk_update(held, ["shoe"])
    action = "catalogue.reservation.moved"
    audit.record_many([audit.Change(action, row, before[row.pk], reason, store=row.store) for row in held], actor=actor)


register_mover(stock_follow)
