"""The list of shoes: the choices of its form and what narrows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from django.conf import settings
from django.utils.safestring import SafeString

from catalogue.domain.filters import MEASURES, ORDERS, RANGES, VIEWS, WEARERS, ShoeFilter
from catalogue.domain.sizes import EU, ReadSize, mark_converted
from catalogue.models import USES
from catalogue.presentation.addresses import list_url
from catalogue.presentation.sizes import SYSTEM_NAMES, size_in_system
from catalogue.presentation.words import SCORE_NAMES, USE_NAMES
from catalogue.selectors import BandRow, FilterCounts
from core.domain.figures import figure, grouped
from core.domain.units import from_si
from core.web import display


@dataclass(frozen=True, slots=True)
class Option:
    """One choice of a filter."""

    value: str
    label: str
    is_chosen: bool
    count: int | str | None = None
    order: int = 0


@dataclass(frozen=True, slots=True)
class Chip:
    """One thing that narrows the list, and the address without it."""

    label: str
    url: str


@dataclass(frozen=True, slots=True)
class Loosened:
    """One filter to remove where nothing is left; `is_most` marks the one that brings back most shoes."""

    label: str
    url: str
    left: str
    is_most: bool


@dataclass(frozen=True, slots=True)
class ViewLink:
    """One way of drawing the shoes."""

    label: str
    url: str
    is_here: bool


@dataclass(frozen=True, slots=True)
class Names:
    """The names of bands by order and of stores by short name."""

    bands: Mapping[int, str]
    stores: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class NumberField:
    """A number of the form; its key says the unit where the reader's is not the catalogue's: "drop_min_in"."""

    key: str
    label: str
    value: str


@dataclass(frozen=True, slots=True)
class RangeField:
    """Two numbers of the form."""

    part: str
    label: str
    unit: str
    ends: tuple[NumberField, NumberField]


FURTHER = ("midfoot", "rearfoot", "cushioning", "width", "photo")
"""Parts of the filter that few visitors set: the form has them behind a summary, which a phone then need not draw."""


@dataclass(frozen=True, slots=True)
class FilterForm:
    """The form of the filters. `stores` are written options; `active` are the parts that are set, `count` how many."""

    url: str
    words: str
    bands: Sequence[Option]
    uses: Sequence[Option]
    wearers: Sequence[Option]
    widths: Sequence[Option]
    photo: bool
    sizes: Sequence[Option]
    size_systems: Sequence[Option]
    store: Option | None
    stores: SafeString
    orders: Sequence[Option]
    ranges: Sequence[RangeField]
    mass: NumberField
    mass_unit: str
    count: int
    active: Sequence[str]
    errors: Mapping[str, str] = field(default_factory=dict)
    further: Sequence[str] = FURTHER

    @property
    def is_further_open(self) -> bool:
        """Whether one of the further filters is set, or has to be corrected."""
        return any(part in self.further for part in (*self.active, *self.errors))


def band_options(wanted: ShoeFilter, bands: Sequence[BandRow], counts: FilterCounts) -> list[Option]:
    return [
        Option(str(band.order), band.name, band.order in wanted.bands, counts.by_band[band.order], band.order)
        for band in bands
    ]


def use_options(wanted: ShoeFilter, counts: FilterCounts) -> list[Option]:
    return [Option(use, USE_NAMES[use], use in wanted.uses, counts.by_use[use]) for use in USES]


def order_options(chosen: str) -> list[Option]:
    return [Option(order, label, order == chosen) for order, label in ORDERS.items()]


def store_options(chosen: str | None, stores: Mapping[str, str]) -> list[Option]:
    return [Option(slug, name, slug == chosen) for slug, name in stores.items()]


def size_text(size: ReadSize) -> str:
    """Say which EU size was asked for, and that it is approximate where it was converted."""
    return mark_converted(display.size(size.eu), size.converted_from)


def size_options(chosen: ReadSize | None, sizes: Sequence[Decimal], system: str = EU) -> list[Option]:
    """Offer the sizes that are in stock somewhere, and the one asked for, in the reader's system."""
    offered = sorted({*sizes, chosen.eu} if chosen else sizes)
    return [_size_option(size, chosen if chosen and chosen.eu == size else None, system) for size in offered]


def _size_option(size: Decimal, chosen: ReadSize | None, system: str) -> Option:
    if chosen is None or (system != EU and not chosen.converted_from):
        return Option(display.bare_size(size), size_in_system(size, system), is_chosen=chosen is not None)
    # The form sends a converted size back as it was written, so that it stays marked as approximate.
    return Option(chosen.converted_from or display.bare_size(size), size_text(chosen), is_chosen=True)


def size_system_options(chosen: str) -> list[Option]:
    """Offer the systems in which sizes can be shown."""
    return [Option(system, name, system == chosen) for system, name in SYSTEM_NAMES.items()]


def view_links(wanted: ShoeFilter) -> list[ViewLink]:
    """Offer the ways of drawing what is left, on the same page of the same list."""
    return [
        ViewLink(label, list_address(replace(wanted, view=view)), view == wanted.view) for view, label in VIEWS.items()
    ]


def range_fields(wanted: ShoeFilter, units: str) -> list[RangeField]:
    """Return the pairs of numbers of the form, in the reader's units."""
    return [
        RangeField(
            name,
            RANGE_NAMES[name],
            settings.CURRENCY if name == "price" else _sign(name, units) or "points",
            (_field(f"{name}_min", "from", wanted, units), _field(f"{name}_max", "to", wanted, units)),
        )
        for name in RANGES
    ]


RANGE_NAMES: Mapping[str, str] = {**SCORE_NAMES, "drop": "Drop", "price": "List price"}


def wearer_options(chosen: str | None) -> list[Option]:
    """Offer for whom one looks; "for all" is the choice of nothing."""
    return [
        Option(wearer, f"{wearer}’s" if wearer != "children" else "children’s", wearer == chosen) for wearer in WEARERS
    ]


def width_options(chosen: str | None, widths: Sequence[str]) -> list[Option]:
    return [Option(width, width, width == chosen) for width in widths]


@dataclass(frozen=True, slots=True)
class SortHead:
    """The head of a column that the list can be sorted by; `direction` is empty where it is not the one."""

    label: str
    url: str
    direction: str


def sort_heads(wanted: ShoeFilter) -> dict[str, SortHead]:
    """Return for each order the address that sorts by it, or the other way round where the list already is."""
    heads = {}
    for name, label in {"name": "Shoe", **SCORE_NAMES, "mass": "Mass", "drop": "Drop"}.items():
        is_up, is_down = wanted.order == name, wanted.order == f"-{name}"
        other = f"-{name}" if is_up and f"-{name}" in ORDERS else name
        direction = "ascending" if is_up else "descending" if is_down else ""
        heads[name] = SortHead(label, list_address(replace(wanted, order=other, page=1)), direction)
    return heads


def mass_field(wanted: ShoeFilter, units: str) -> NumberField:
    return _field("mass_max", "Mass at most", wanted, units)


def mass_sign(units: str) -> str:
    return _sign("mass", units)


def _sign(name: str, units: str) -> str:
    """Return the unit in which readers give a number of the filter: "" for points."""
    kind = MEASURES.get(name)
    return display.STYLES[kind][units].sign if kind else ""


def _field(key: str, label: str, wanted: ShoeFilter, units: str) -> NumberField:
    name, value = key.rpartition("_")[0], getattr(wanted, key)
    kind = MEASURES.get(name)
    if kind is None or units == display.METRIC:
        return NumberField(key, label, _plain(value))
    style = display.STYLES[kind][units]
    shown = None if value is None else from_si(value, style.unit, quantity=style.quantity)
    # Digits beyond these are what converting there and back leaves.
    return NumberField(f"{key}_{style.unit}", label, "" if shown is None else f"{shown:.9g}")


def _plain(value: float | None) -> str:
    """Write a number as the query string has it."""
    return "" if value is None else f"{value:.12g}"


def _range_text(name: str, least: float | None, most: float | None, units: str) -> str:
    kind = MEASURES.get(name)
    style = display.STYLES[kind][units] if kind else None

    def say(value: float) -> str:
        shown = from_si(value, style.unit, quantity=style.quantity) if style else value
        return f"{figure(shown)}{f' {style.sign}' if style else ''}"

    if least is not None and most is not None:
        return f"{name} {say(least)} to {say(most)}"
    return f"{name} from {say(least)}" if least is not None else f"{name} up to {say(most or 0.0)}"


def _part_text(part: str, wanted: ShoeFilter, names: Names, units: str) -> str:
    match part:
        case "q":
            return f"“{wanted.q}”"
        case "band":
            return display.listed([names.bands[order] for order in wanted.bands], "or")
        case "use":
            return display.listed([USE_NAMES[use] for use in wanted.uses], "or")
        case "size":
            return size_text(wanted.size) if wanted.size else ""
        case "wearer":
            return f"for {wanted.wearer}"
        case "width":
            return f"width {wanted.width}"
        case "photo":
            return "with a photo"
        case "price":
            said = _range_text("list price", wanted.price_min, wanted.price_max, units)
            return f"{said} {settings.CURRENCY}"
        case "store":
            return f"in stock at {names.stores[wanted.store or '']}"
    return _range_text(part, getattr(wanted, f"{part}_min", None), getattr(wanted, f"{part}_max"), units)


def list_address(wanted: ShoeFilter) -> str:
    """Return the address of the list under a filter."""
    query = wanted.query()
    return f"{list_url()}?{query}" if query else list_url()


def chips(wanted: ShoeFilter, names: Names, units: str) -> list[Chip]:
    """Return what narrows the list, each with the address without it."""
    return [
        Chip(_part_text(part, wanted, names, units), list_address(wanted.without(part))) for part in wanted.active()
    ]


def loosen(wanted: ShoeFilter, let_go: Mapping[str, int], names: Names, units: str) -> list[Loosened]:
    """Say which filter to remove where nothing is left: those that help, the one that brings back most shoes first."""
    helps = sorted((part for part, left in let_go.items() if left), key=lambda part: -let_go[part])
    return [
        Loosened(
            # Words that were searched for come with their quotation marks.
            _part_text(part, wanted, names, units).strip("“”"),
            list_address(wanted.without(part)),
            display.count(let_go[part], "shoe"),
            is_most=place == 0,
        )
        for place, part in enumerate(helps)
    ]


def summary(wanted: ShoeFilter, counts: FilterCounts) -> str:
    """Say how many shoes there are: "12 of 50 shoes"."""
    all_of_them = display.count(counts.published, "shoe")
    return f"{counts.matching} of {all_of_them}" if wanted.active() else all_of_them


def place_text(wanted: ShoeFilter, counts: FilterCounts, first: int, last: int) -> str:
    """Say which part of the list is shown, for those who hear it: "25 to 48 of 50 shoes"."""
    if last - first + 1 >= counts.matching:
        return summary(wanted, counts)
    return f"{grouped(first)} to {grouped(last)} of {display.count(counts.matching, 'shoe')}"


def everything_address(wanted: ShoeFilter) -> str:
    """Return the address of the list without filters, in the same order and drawing."""
    return list_address(replace(ShoeFilter(), order=wanted.order, view=wanted.view))
