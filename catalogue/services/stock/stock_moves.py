"""Pairs that come and go: received, sold, returned, written off, sent to and arrived from another store."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from catalogue.domain.ordering import UNKNOWN_WIDTH, short_width
from catalogue.models import MovementKind, Shoe, StockItem, StockMovement, StockTransfer
from catalogue.selectors.stock.stock_work import Place, Unit, reserved_by_width, stock_by_width
from core import audit
from core.database.validation import check_fields
from core.domain.errors import DomainError
from core.domain.figures import grouped
from core.models import Store, User

PAIRS_MOST = 999
STOCK_MOST = 9_999
ARRIVING = frozenset(
    {MovementKind.RECEIVED, MovementKind.RETURNED, MovementKind.ARRIVED, MovementKind.CALLED_BACK},
)
# Pairs that are reserved for somebody leave the store only once the reservation has ended.
RESPECTS_RESERVATIONS = frozenset({MovementKind.SOLD, MovementKind.SENT})


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs of one size and width of a shoe; `width` is empty where it is not known."""

    shoe: Shoe
    size_eu: Decimal
    quantity: int
    width: str = ""

    @property
    def place(self) -> Place:
        return self.shoe.pk, self.size_eu

    @property
    def unit(self) -> Unit:
        return self.shoe.pk, self.size_eu, self.width


@dataclass(frozen=True, slots=True)
class Step:
    """One change of the pairs of a place; a place changes more than once where several widths come or go."""

    item: StockItem
    before: int
    after: int
    width: str = UNKNOWN_WIDTH


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
            change=step.after - step.before,
            pairs_after=step.after,
            at=now,
            by=actor,
            transfer=transfer,
        )
        for step in steps
        if step.after != step.before
    )


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
        `too_few` where the store has fewer pairs than are to leave, or what remains of a size or width is less than
        is reserved for customers.
    """
    _check_quantities(pairs)
    # Everybody who changes this store's stock waits here, so that what is checked below stays true.
    check_store(Store.objects.select_for_update(no_key=True).get(pk=store.pk))
    by_place = {one.place: one for one in pairs}
    items = _items(store, by_place)
    snapshots = audit.snapshots(StockItem, [item.pk for item in items.values() if item.pk])
    steps = _steps(kind, pairs, items)
    reserved = reserved_by_width(store, [shoe for shoe, _ in items]) if kind in RESPECTS_RESERVATIONS else {}
    _check_possible(store, reserved, by_place, items)
    _save(list(items.values()))
    movements_write(actor=actor, kind=kind, steps=steps, transfer=transfer)
    if reserved.keys() & items.keys():
        _check_widths(store, reserved, by_place)
    action = f"catalogue.stock.{kind.value}"
    changes = [audit.Change(action, item, before=snapshots.get(item.pk), store=store) for item in items.values()]
    audit.record_many(changes, actor=actor)
    return list(items.values())


def _steps(kind: MovementKind, pairs: Sequence[Pairs], items: Mapping[Place, StockItem]) -> list[Step]:
    """Change the quantities of the lines, one width after another."""
    steps = []
    for one in pairs:
        item = items[one.place]
        before = item.quantity
        item.quantity += one.quantity if kind in ARRIVING else -one.quantity
        steps.append(Step(item, before, item.quantity, one.width))
    return steps


def _check_quantities(pairs: Sequence[Pairs]) -> None:
    if not pairs:
        raise DomainError("Name at least one shoe with its size.", code="no_pairs")
    for one in pairs:
        if not 1 <= one.quantity <= PAIRS_MOST:
            message = f"Write how many pairs, from 1 to {PAIRS_MOST}."
            raise DomainError(message, code="bad_quantity", fields={"quantity": [message]})


def check_store(store: Store) -> None:
    """Refuse stock for a store that can't have any.

    Raises
    ------
    DomainError
        If the store is for training.
    """
    if store.is_training:
        raise DomainError("A training store holds no stock, so that no visitor is sent there.", code="training")


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
    store: Store,
    reserved: Mapping[Place, Mapping[str, int]],
    by_place: Mapping[Place, Pairs],
    items: Mapping[Place, StockItem],
) -> None:
    for place, item in items.items():
        promised = sum(reserved.get(place, {}).values())
        if item.quantity < promised:
            _refuse_too_few(store, by_place[place], promised)
        if item.quantity > STOCK_MOST:
            message = f"A store can have at most {grouped(STOCK_MOST)} pairs of one size."
            raise DomainError(message, code="too_many", fields={"quantity": [message]})


def _check_widths(store: Store, reserved: Mapping[Place, Mapping[str, int]], by_place: Mapping[Place, Pairs]) -> None:
    """Refuse what would leave too few pairs of a width for its reservations; the movements are written already."""
    held = stock_by_width(store, [shoe for shoe, _ in by_place])
    for place in reserved.keys() & by_place.keys():
        width = short_width(held.get(place, {}), reserved[place])
        if width:
            words = f"{shoe_title(by_place[place].shoe)} in this size and width {width}"
            message = f"What would be left of {words} at {store.name} is reserved for customers."
            raise DomainError(
                f"{message} Nothing was saved.", code="too_few", status=409, fields={"quantity": [message]}
            )


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
