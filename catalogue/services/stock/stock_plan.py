"""What a stock file would change, before anybody changes it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from catalogue.domain.sizes import mark_converted
from catalogue.models import Shoe, StockItem
from catalogue.selectors.stock.stock_work import count_lines, widths_of_shoes
from catalogue.services import Overtaken, StockCell
from catalogue.services.stock import count_file
from catalogue.services.stock.stock import CellPlace
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


def _held(store: Store, *, by_width: bool) -> dict[CellPlace, int]:
    """Return the pairs of each size, or of each size and width."""
    if by_width:
        return {(shoe, size, width): pairs for (shoe, size, width), pairs in count_lines(store).items()}
    lines = StockItem.objects.filter(store=store).order_by("shoe", "size_eu")
    return {(shoe, size, None): pairs for shoe, size, pairs in lines.values_list("shoe_id", "size_eu", "quantity")}


def _cell(key: CellPlace, seen: int | None, quantity: int) -> StockCell:
    shoe, size, width = key
    return StockCell(shoe, size, seen, quantity, width)


def plan_of(store: Store, data: bytes, *, is_whole: bool) -> Plan:
    """Read a file and set it against the stock, by width where the file has them.

    Raises
    ------
    count_file.CountRejected
        Where the file can't be read.
    """
    numbers: dict[str, int] = dict(Shoe.objects.values_list("slug", "pk"))
    slugs = {pk: slug for slug, pk in numbers.items()}
    widths = {slugs[pk]: offered for pk, offered in widths_of_shoes().items()}
    lines = count_file.read(data, frozenset(numbers), widths=widths)
    held = _held(store, by_width=any(line.width is not None for line in lines))
    said = {(numbers[line.shoe], line.size_eu, line.width): line.quantity for line in lines}
    changes = [_cell(key, held.get(key), pairs) for key, pairs in said.items() if held.get(key) != pairs]
    silent = [key for key, pairs in held.items() if key not in said and pairs]
    gone = [_cell(key, held[key], 0) for key in silent] if is_whole else []
    converted = {(numbers[line.shoe], line.size_eu): line.converted_from for line in lines if line.converted_from}
    return Plan((*changes, *gone), len(said) - len(changes), len(silent), is_whole, converted)


def plan_again(store: Store, cells: Sequence[StockCell]) -> Plan:
    """Set the same wishes against the stock as it is now."""
    held = _held(store, by_width=any(cell.width is not None for cell in cells))
    wanted = {(cell.shoe, cell.size_eu, cell.width): cell.quantity for cell in cells}
    fresh = tuple(_cell(key, held.get(key), pairs) for key, pairs in wanted.items() if held.get(key) != pairs)
    return Plan(fresh, len(cells) - len(fresh), 0, is_whole=False)


def _titles(ids: Iterable[int]) -> dict[int, str]:
    lines = Shoe.objects.filter(pk__in=ids).values_list("pk", "brand__name", "name", "version")
    return {pk: f"{brand} {name} {version}".rstrip() for pk, brand, name, version in lines}


def pairs_text(quantity: int | None) -> str:
    return "no entry" if quantity is None else str(quantity)


def width_words(width: str | None, *, has_widths: bool) -> str:
    """Say which width is meant, after a comma; nothing of a shoe that has only one."""
    if width:
        return f", width {width}"
    return ", width not known" if width is not None and has_widths else ""


def _kind(cell: StockCell) -> str:
    if cell.seen is None:
        return "new"
    if not cell.quantity:
        return "sold out"
    return "more" if cell.quantity > cell.seen else "fewer"


def _size_text(cell: StockCell, plan: Plan, widths: Mapping[int, Sequence[str]]) -> str:
    size = mark_converted(display.size(cell.size_eu), plan.converted.get((cell.shoe, cell.size_eu), ""))
    return f"{size}{width_words(cell.width, has_widths=cell.shoe in widths)}"


def lines_shown(plan: Plan) -> list[PlanLine]:
    """Write the first changes, one by one."""
    shown = plan.cells[:LINES_SHOWN]
    ids = {cell.shoe for cell in shown}
    titles, widths = _titles(ids), widths_of_shoes(ids)
    return [
        PlanLine(
            titles.get(cell.shoe, ""),
            _size_text(cell, plan, widths),
            pairs_text(cell.seen),
            str(cell.quantity),
            _kind(cell),
        )
        for cell in shown
    ]


def overtaken_lines(cells: Sequence[Overtaken]) -> list[str]:
    """Say which sizes changed since the preview."""
    titles = _titles({cell.shoe for cell in cells})
    return [
        f"{titles.get(cell.shoe, '')}, {display.size(cell.size_eu)}{width_words(cell.width, has_widths=True)}: "
        f"{pairs_text(cell.seen)} in the preview, {pairs_text(cell.now)} now, {cell.wanted} in the file."
        for cell in cells[:LINES_SHOWN]
    ]
