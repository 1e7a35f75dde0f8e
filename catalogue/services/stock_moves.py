"""Pairs that come and go: received, sold, returned, written off, sent to and arrived from another store."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from catalogue.models import MovementKind, Reservation, Shoe, StockItem, StockMovement, StockTransfer
from core import audit
from core.database.validation import check_fields
from core.domain.errors import DomainError
from core.models import Store, User

PAIRS_MOST = 999
STOCK_MOST = 9_999
ARRIVING = frozenset(
    {MovementKind.RECEIVED, MovementKind.RETURNED, MovementKind.ARRIVED, MovementKind.CALLED_BACK},
)
# Pairs that are reserved for somebody leave the store only once the reservation has ended.
RESPECTS_RESERVATIONS = frozenset({MovementKind.SOLD, MovementKind.SENT})

Place = tuple[int, Decimal]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs of one size of a shoe; `width` where it is known."""

    shoe: Shoe
    size_eu: Decimal
    quantity: int
    width: str = ""

    @property
    def place(self) -> Place:
        return self.shoe.pk, self.size_eu


@dataclass(frozen=True, slots=True)
class Step:
    """How the pairs of one place change; `before` is None where there was no line."""

    item: StockItem
    before: int | None
    width: str = ""


def movements_write(
    *, actor: User | None, kind: MovementKind, steps: Sequence[Step], transfer: StockTransfer | None = None
) -> None:
    """Write the history of stock lines that were just saved; a line that did not change has no movement."""
    now = timezone.now()
    StockMovement.objects.bulk_create(
        StockMovement(
            store_id=step.item.store_id,
            shoe_id=step.item.shoe_id,
            size_eu=step.item.size_eu,
            width=step.width,
            kind=kind,
            change=step.item.quantity - (step.before or 0),
            pairs_after=step.item.quantity,
            at=now,
            by=actor,
            transfer=transfer,
        )
        for step in steps
        if step.item.quantity != (step.before or 0)
    )


def reserved_pairs(store: Store, shoes: Sequence[int]) -> Mapping[Place, int]:
    """Return the pairs of these shoes that are reserved today."""
    held = Reservation.objects.open(timezone.localdate()).filter(store=store, shoe__in=shoes)
    lines = held.order_by().values_list("shoe_id", "size_eu").annotate(pairs=Sum("quantity"))
    return {(shoe, size): pairs for shoe, size, pairs in lines}


@transaction.atomic
def stock_move(
    *,
    actor: User | None,
    store: Store,
    kind: MovementKind,
    pairs: Sequence[Pairs],
    transfer: StockTransfer | None = None,
) -> list[StockItem]:
    """Add pairs to a store's stock or take them away: all of them or none.

    Raises
    ------
    DomainError
        `too_few` where the store has fewer pairs than are to leave, or the rest is reserved for customers.
    """
    _check_quantities(pairs)
    # Everybody who changes this store's stock waits here, so that what is checked below stays true.
    Store.objects.select_for_update(no_key=True).get(pk=store.pk)
    by_place = {one.place: one for one in pairs}
    items = _items(store, by_place)
    before = {place: item.quantity if item.pk else None for place, item in items.items()}
    snapshots = audit.snapshots(StockItem, [item.pk for item in items.values() if item.pk])
    for place, pairs_moved in _sums(pairs).items():
        items[place].quantity += pairs_moved if kind in ARRIVING else -pairs_moved
    _check_possible(store, kind, by_place, items)
    _save(list(items.values()))
    widths = {place: one.width for place, one in by_place.items()}
    steps = [Step(item, before[place], widths[place]) for place, item in items.items()]
    movements_write(actor=actor, kind=kind, steps=steps, transfer=transfer)
    action = f"catalogue.stock.{kind.value}"
    changes = [audit.Change(action, item, before=snapshots.get(item.pk), store=store) for item in items.values()]
    audit.record_many(changes, actor=actor)
    return list(items.values())


def _sums(pairs: Sequence[Pairs]) -> Counter[Place]:
    sums: Counter[Place] = Counter()
    for one in pairs:
        sums[one.place] += one.quantity
    return sums


def _check_quantities(pairs: Sequence[Pairs]) -> None:
    if not pairs:
        raise DomainError("Name at least one shoe with its size.", code="no_pairs")
    for one in pairs:
        if not 1 <= one.quantity <= PAIRS_MOST:
            message = f"Write how many pairs, from 1 to {PAIRS_MOST}."
            raise DomainError(message, code="bad_quantity", fields={"quantity": [message]})


def _items(store: Store, by_place: Mapping[Place, Pairs]) -> dict[Place, StockItem]:
    """Return the stock lines of these places, locked; one that is not there yet is new and empty."""
    shoes = {shoe for shoe, _ in by_place}
    held = {
        (item.shoe_id, item.size_eu): item
        for item in StockItem.objects.select_for_update().filter(store=store, shoe__in=shoes)
    }
    return {
        place: held.get(place) or StockItem(store=store, shoe=one.shoe, size_eu=one.size_eu, quantity=0)
        for place, one in by_place.items()
    }


def _check_possible(
    store: Store, kind: MovementKind, by_place: Mapping[Place, Pairs], items: Mapping[Place, StockItem]
) -> None:
    reserved = reserved_pairs(store, [shoe for shoe, _ in items]) if kind in RESPECTS_RESERVATIONS else {}
    for place, item in items.items():
        if item.quantity < reserved.get(place, 0):
            _refuse_too_few(store, by_place[place], reserved.get(place, 0))
        if item.quantity > STOCK_MOST:
            message = f"A store can have at most {STOCK_MOST:,} pairs of one size."
            raise DomainError(message, code="too_many", fields={"quantity": [message]})


def shoe_that_stays(shoe: Shoe) -> Shoe:
    """Return the shoe that a duplicate was merged into since, or the shoe itself."""
    while shoe.merged_into is not None:
        shoe = shoe.merged_into
    return shoe


def shoe_title(shoe: Shoe) -> str:
    return f"{shoe.brand.name} {shoe.title}"


def _refuse_too_few(store: Store, wanted: Pairs, reserved: int) -> None:
    held = StockItem.objects.filter(store=store, shoe=wanted.shoe, size_eu=wanted.size_eu)
    pairs = held.values_list("quantity", flat=True).first() or 0
    words = f"{store.name} has {pairs} pair{'' if pairs == 1 else 's'} of {shoe_title(wanted.shoe)} in this size"
    message = f"{words}, {reserved} of them reserved." if reserved else f"{words}."
    raise DomainError(f"{message} Nothing was saved.", code="too_few", status=409, fields={"quantity": [message]})


def _save(items: Sequence[StockItem]) -> None:
    for item in items:
        check_fields(item, but={"store", "shoe"})
    known = [item for item in items if item.pk]
    StockItem.objects.bulk_create([item for item in items if item.pk is None])
    StockItem.objects.bulk_update(known, ["quantity"])
