"""What a stock file would change, before anybody changes it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from catalogue.domain.sizes import mark_converted
from catalogue.models import Shoe, StockItem
from catalogue.services import Overtaken, StockCell, count_file
from core.models import Store
from core.web import display

LINES_SHOWN = 200
COLLIDED = "Somebody else saved the same size at the same moment. Your changes were not saved: save them again."


@dataclass(frozen=True, slots=True)
class Plan:
    """The cells that would change, and how many lines would leave things as they are or are not spoken of.

    `converted` has the sizes of the file that are not EU sizes, as they were written.
    """

    cells: tuple[StockCell, ...]
    unchanged: int
    unmentioned: int
    is_whole: bool
    converted: Mapping[tuple[int, Decimal], str] = field(default_factory=dict)

    @property
    def more(self) -> int:
        """How many changes are beyond those that are shown one by one."""
        return max(0, len(self.cells) - LINES_SHOWN)


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One change in words."""

    shoe: str
    size: str
    before: str
    after: str
    kind: str


def _held(store: Store) -> dict[tuple[int, Decimal], int]:
    lines = StockItem.objects.filter(store=store).order_by("shoe", "size_eu")
    return {(shoe, size): quantity for shoe, size, quantity in lines.values_list("shoe_id", "size_eu", "quantity")}


def plan_of(store: Store, data: bytes, *, is_whole: bool) -> Plan:
    """Read a file and set it against the stock.

    Raises
    ------
    count_file.CountRejected
        Where the file can't be read.
    """
    numbers: dict[str, int] = dict(Shoe.objects.values_list("slug", "pk"))
    lines = count_file.read(data, frozenset(numbers))
    held = _held(store)
    said = {(numbers[line.shoe], line.size_eu): line.quantity for line in lines}
    changes = [StockCell(*key, held.get(key), pairs) for key, pairs in said.items() if held.get(key) != pairs]
    silent = [key for key, pairs in held.items() if key not in said and pairs]
    gone = [StockCell(*key, held[key], 0) for key in silent] if is_whole else []
    converted = {(numbers[line.shoe], line.size_eu): line.converted_from for line in lines if line.converted_from}
    return Plan((*changes, *gone), len(said) - len(changes), len(silent), is_whole, converted)


def plan_again(store: Store, cells: Sequence[StockCell]) -> Plan:
    """Set the same wishes against the stock as it is now."""
    held = _held(store)
    fresh = tuple(
        StockCell(cell.shoe, cell.size_eu, held.get((cell.shoe, cell.size_eu)), cell.quantity)
        for cell in cells
        if held.get((cell.shoe, cell.size_eu)) != cell.quantity
    )
    return Plan(fresh, len(cells) - len(fresh), 0, is_whole=False)


def _titles(ids: Sequence[int]) -> dict[int, str]:
    lines = Shoe.objects.filter(pk__in=ids).values_list("pk", "brand__name", "name", "version")
    return {pk: f"{brand} {name} {version}".rstrip() for pk, brand, name, version in lines}


def pairs_text(quantity: int | None) -> str:
    return "no line" if quantity is None else str(quantity)


def _kind(cell: StockCell) -> str:
    if cell.seen is None:
        return "new"
    if not cell.quantity:
        return "sold out"
    return "more" if cell.quantity > cell.seen else "fewer"


def _size_text(cell: StockCell, plan: Plan) -> str:
    return mark_converted(display.size(cell.size_eu), plan.converted.get((cell.shoe, cell.size_eu), ""))


def lines_shown(plan: Plan) -> list[PlanLine]:
    """Write the first changes, one by one."""
    shown = plan.cells[:LINES_SHOWN]
    titles = _titles([cell.shoe for cell in shown])
    return [
        PlanLine(
            titles.get(cell.shoe, ""),
            _size_text(cell, plan),
            pairs_text(cell.seen),
            str(cell.quantity),
            _kind(cell),
        )
        for cell in shown
    ]


def overtaken_lines(cells: Sequence[Overtaken]) -> list[str]:
    """Say which sizes changed since the preview."""
    titles = _titles([cell.shoe for cell in cells])
    return [
        f"{titles.get(cell.shoe, '')}, {display.size(cell.size_eu)}: {pairs_text(cell.seen)} in the preview, "
        f"{pairs_text(cell.now)} now, {cell.wanted} in the file."
        for cell in cells[:LINES_SHOWN]
    ]
