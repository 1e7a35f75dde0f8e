"""What the stores hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from catalogue.models import MovementKind, Shoe, StockItem
from catalogue.services.stock_moves import Step, check_store, movements_write
from core import audit
from core.database.validation import check_fields
from core.domain.errors import DomainError
from core.models import Store, User


@dataclass(frozen=True, slots=True)
class StockLine:
    """How many pairs of one size of a shoe were counted."""

    shoe: Shoe
    size_eu: Decimal
    quantity: int


@transaction.atomic
def stock_count_record(*, actor: User | None, store: Store, lines: Sequence[StockLine]) -> list[StockItem]:
    """Set many sizes of a store at once, as after a stock count: all of them or none."""
    wanted = {(line.shoe.pk, line.size_eu): line for line in lines}
    if len(wanted) < len(lines):
        raise DomainError("A size of a shoe is counted twice.", code="counted_twice")
    # Two counts of one store wait for each other here, so that neither makes a line twice.
    check_store(Store.objects.select_for_update(no_key=True).get(pk=store.pk))
    shoes = {line.shoe.pk for line in lines}
    held = {
        (item.shoe_id, item.size_eu): item
        for item in StockItem.objects.select_for_update().filter(store=store, shoe__in=shoes)
        if (item.shoe_id, item.size_eu) in wanted
    }
    before = audit.snapshots(StockItem, [item.pk for item in held.values()])
    steps = []
    for key, line in wanted.items():
        item = held.get(key) or StockItem(store=store, shoe=line.shoe, size_eu=line.size_eu)
        earlier, item.quantity = item.quantity or 0, line.quantity
        check_fields(item, but={"store", "shoe"})
        steps.append(Step(item, earlier, line.quantity))
    items = [step.item for step in steps]
    StockItem.objects.bulk_create([item for item in items if item.pk is None])
    StockItem.objects.bulk_update(held.values(), ["quantity"])
    movements_write(actor=actor, kind=MovementKind.COUNTED, steps=steps)
    audit.record_many(
        [audit.Change("catalogue.stock.set", item, before=before.get(item.pk), store=store) for item in items],
        actor=actor,
    )
    return items


@dataclass(frozen=True, slots=True)
class StockCell:
    """One size of a shoe as somebody saw it and as they want it: pairs, `seen` None where there was no line."""

    shoe: int
    size_eu: Decimal
    seen: int | None
    quantity: int


@dataclass(frozen=True, slots=True)
class Overtaken:
    """A cell that somebody else changed between being seen and being saved; `now` is what is there."""

    shoe: int
    size_eu: Decimal
    seen: int | None
    now: int | None
    wanted: int


class StockOvertaken(DomainError):
    """Somebody else changed what is to be saved. Nothing was; `cells` says where and what is there now."""

    def __init__(self, cells: Sequence[Overtaken]) -> None:
        self.cells = tuple(cells)
        super().__init__(
            "Somebody changed some of these sizes after you opened the page. Nothing was saved: look at them and save "
            "again.",
            code="overtaken",
            status=409,
        )


def _held(store: Store, shoes: set[int]) -> Mapping[tuple[int, Decimal], int]:
    lines = StockItem.objects.select_for_update().filter(store=store, shoe__in=shoes)
    return {(shoe, size): quantity for shoe, size, quantity in lines.values_list("shoe_id", "size_eu", "quantity")}


def _shoes(ids: set[int]) -> Mapping[int, Shoe]:
    shoes = Shoe.objects.in_bulk(ids)
    for missing in ids - shoes.keys():
        raise DomainError(f"There is no shoe of number {missing}.", code="no_such_shoe")
    return shoes


@transaction.atomic
def stock_cells_save(*, actor: User | None, store: Store, cells: Sequence[StockCell]) -> list[StockItem]:
    """Save sizes that somebody edited, unless somebody else changed one of them since: all of them or none.

    Raises
    ------
    StockOvertaken
        With every cell that is no longer what was seen; one that already is as wanted is no reason.
    """
    Store.objects.select_for_update(no_key=True).get(pk=store.pk)
    ids = {cell.shoe for cell in cells}
    shoes, held = _shoes(ids), _held(store, ids)
    overtaken = [
        Overtaken(cell.shoe, cell.size_eu, cell.seen, held.get((cell.shoe, cell.size_eu)), cell.quantity)
        for cell in cells
        if held.get((cell.shoe, cell.size_eu)) not in (cell.seen, cell.quantity)
    ]
    if overtaken:
        raise StockOvertaken(overtaken)
    lines = [
        StockLine(shoes[cell.shoe], cell.size_eu, cell.quantity)
        for cell in cells
        if held.get((cell.shoe, cell.size_eu)) != cell.quantity
    ]
    return stock_count_record(actor=actor, store=store, lines=lines)
