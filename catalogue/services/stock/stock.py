"""What the stores hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from catalogue.domain.ordering import UNKNOWN_WIDTH, lines_by_width
from catalogue.models import MovementKind, Shoe, StockItem
from catalogue.selectors.stock.stock_work import recorded_widths, widths_of_shoes
from catalogue.services.stock.stock_moves import STOCK_MOST, Step, check_store, movements_write
from core import audit
from core.database.validation import check_fields
from core.domain.errors import DomainError
from core.domain.figures import grouped
from core.models import Store, User


@dataclass(frozen=True, slots=True)
class StockLine:
    """How many pairs of one size of a shoe were counted; `by_width` splits them where their widths were counted too."""

    shoe: Shoe
    size_eu: Decimal
    quantity: int
    by_width: Mapping[str, int] | None = None


def _steps(item: StockItem, line: StockLine, recorded: Mapping[str, int]) -> list[Step]:
    """Return the changes that make a size what was counted, pairs that come first, so that none is below 0."""
    before = item.quantity or 0
    if line.by_width is None:
        return [Step(item, before, line.quantity)]
    widths = {*recorded, *line.by_width} - {UNKNOWN_WIDTH}
    changes = {width: line.by_width.get(width, 0) - recorded.get(width, 0) for width in sorted(widths)}
    changes[UNKNOWN_WIDTH] = line.quantity - before - sum(changes.values())
    steps = []
    for width, change in sorted(changes.items(), key=lambda one: -one[1]):
        steps.append(Step(item, before, before + change, width))
        before += change
    return steps


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
    by_width = any(line.by_width is not None for line in lines)
    recorded = recorded_widths(store, shoes) if by_width else {}
    items, steps = [], []
    for key, line in wanted.items():
        item = held.get(key) or StockItem(store=store, shoe=line.shoe, size_eu=line.size_eu)
        steps += _steps(item, line, recorded.get(key, {}))
        item.quantity = line.quantity
        check_fields(item, but={"store", "shoe"})
        items.append(item)
    StockItem.objects.bulk_create([item for item in items if item.pk is None])
    StockItem.objects.bulk_update(held.values(), ["quantity"])
    movements_write(actor=actor, kind=MovementKind.COUNTED, steps=steps)
    audit.record_many(
        [audit.Change("catalogue.stock.set", item, before=before.get(item.pk), store=store) for item in items],
        actor=actor,
    )
    return items


# A shoe, a size and, where its widths are counted one by one, a width; empty for pairs of unknown width.
CellPlace = tuple[int, Decimal, str | None]


@dataclass(frozen=True, slots=True)
class StockCell:
    """One size of a shoe as somebody saw it and as they want it: pairs, `seen` None where there was no line.

    `width` is None for the size as a whole, and empty for its pairs of unknown width.
    """

    shoe: int
    size_eu: Decimal
    seen: int | None
    quantity: int
    width: str | None = None


@dataclass(frozen=True, slots=True)
class Overtaken:
    """A cell that somebody else changed between being seen and being saved; `now` is what is there."""

    shoe: int
    size_eu: Decimal
    seen: int | None
    now: int | None
    wanted: int
    width: str | None = None


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
    recorded = _recorded(store, cells)
    split = {place: lines_by_width(pairs, recorded.get(place, {})) for place, pairs in held.items()}

    def now(cell: StockCell) -> int | None:
        place = cell.shoe, cell.size_eu
        return held.get(place) if cell.width is None else split.get(place, {}).get(cell.width)

    overtaken = [
        Overtaken(cell.shoe, cell.size_eu, cell.seen, now(cell), cell.quantity, cell.width)
        for cell in cells
        if now(cell) not in (cell.seen, cell.quantity)
    ]
    if overtaken:
        raise StockOvertaken(overtaken)
    changed = [cell for cell in cells if now(cell) != cell.quantity]
    return stock_count_record(actor=actor, store=store, lines=_lines(shoes, changed, split))


def _recorded(store: Store, cells: Sequence[StockCell]) -> Mapping[tuple[int, Decimal], Mapping[str, int]]:
    """Return what is recorded of the widths of these cells; a width that its shoe does not come in is refused."""
    if not any(cell.width is not None for cell in cells):
        return {}
    named = {(cell.shoe, cell.width) for cell in cells if cell.width}
    ids = {cell.shoe for cell in cells}
    recorded, offered = recorded_widths(store, ids), widths_of_shoes(ids)
    known = {(shoe, width) for shoe, widths in offered.items() for width in widths}
    known |= {(shoe, width) for (shoe, _), widths in recorded.items() for width in widths}
    if named - known:
        raise DomainError(
            "A shoe does not come in one of these widths. Reload the page and try again.", code="no_width"
        )
    return recorded


def _lines(
    shoes: Mapping[int, Shoe], cells: Sequence[StockCell], split: Mapping[tuple[int, Decimal], Mapping[str, int]]
) -> list[StockLine]:
    """Return a line a size; the widths that nobody counted stay as they are."""
    whole = [StockLine(shoes[cell.shoe], cell.size_eu, cell.quantity) for cell in cells if cell.width is None]
    widths: dict[tuple[int, Decimal], dict[str, int]] = {}
    for cell in cells:
        if cell.width is not None:
            place = cell.shoe, cell.size_eu
            widths.setdefault(place, dict(split.get(place, {})))[cell.width] = cell.quantity
    lines = [StockLine(shoes[shoe], size, sum(pairs.values()), pairs) for (shoe, size), pairs in widths.items()]
    if any(line.quantity > STOCK_MOST for line in lines):
        raise DomainError(f"A store can have at most {grouped(STOCK_MOST)} pairs of one size, all widths together.")
    return whole + lines
