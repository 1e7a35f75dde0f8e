"""What a reader asks of the list of shoes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from urllib.parse import urlencode

from catalogue.domain.sizes import ReadSize

# The words of each order; "-" in front turns it round. The slug settles ties, so that pages never share a shoe.
ORDERS: Mapping[str, str] = {
    "stability": "stability, lowest first",
    "-stability": "stability, highest first",
    "midfoot": "midfoot score, low first",
    "-midfoot": "midfoot score, high first",
    "rearfoot": "rearfoot score, low first",
    "-rearfoot": "rearfoot score, high first",
    "cushioning": "cushioning score, low first",
    "-cushioning": "cushioning score, high first",
    "mass": "mass, light first",
    "-mass": "mass, heavy first",
    "drop": "drop, low first",
    "-drop": "drop, high first",
    "price": "list price, low first",
    "-price": "list price, high first",
    "name": "brand and name",
}
# Range filters: the key's start in the query string.
RANGES = ("midfoot", "rearfoot", "cushioning", "drop", "price")
# For whom one looks: shoes made for men and women alike are among both.
WEARERS = ("men", "women", "children")
# What of a filter is measured in units, by the kind of measure. The address has it in g and mm, or in another unit that
# its key then names, as a form in the reader's units sends it: "drop_max=8" is "drop_max_in=0.315".
MEASURES: Mapping[str, str] = {"mass": "mass", "drop": "length"}
# How the shoes are drawn: along the scale of stability, or midfoot against rearfoot.
VIEWS: Mapping[str, str] = {"scale": "Along the scale", "map": "Midfoot against rearfoot"}
_NOTHING: Mapping[str, object] = {"bands": (), "uses": (), "q": ""}


@dataclass(frozen=True, slots=True)
class ShoeFilter:
    """One reading of the query string; None, "" or () where not asked.

    Scores in points, mass in g, drop in mm, price in the practice's currency; `photo` is "yes" where only shoes with a
    photo are wanted.
    """

    bands: tuple[int, ...] = ()
    uses: tuple[str, ...] = ()
    midfoot_min: float | None = None
    midfoot_max: float | None = None
    rearfoot_min: float | None = None
    rearfoot_max: float | None = None
    cushioning_min: float | None = None
    cushioning_max: float | None = None
    mass_max: float | None = None
    drop_min: float | None = None
    drop_max: float | None = None
    price_min: float | None = None
    price_max: float | None = None
    wearer: str | None = None
    width: str | None = None
    photo: str | None = None
    size: ReadSize | None = None
    store: str | None = None
    q: str = ""
    order: str = "stability"
    page: int = 1
    view: str = "scale"

    @property
    def size_eu(self) -> Decimal | None:
        return self.size.eu if self.size else None

    def active(self) -> tuple[str, ...]:
        """Name what narrows the list: "band", "use", "midfoot", …, in the order of the form."""
        return tuple(
            name for name, keys in PARTS.items() if any(getattr(self, key) not in (None, "", ()) for key in keys)
        )

    def without(self, part: str) -> ShoeFilter:
        """Return the filter without one part, back on the first page."""
        changes: dict[str, object] = {key: _NOTHING.get(key) for key in PARTS[part]}
        return replace(self, page=1, **changes)  # type: ignore[arg-type]

    def query(self) -> str:
        """Return the query string that says this filter again, without what is not asked."""
        pairs: list[tuple[str, str]] = [("band", str(order)) for order in self.bands]
        pairs += [("use", use) for use in self.uses]
        for key in _SINGLE:
            value = getattr(self, key)
            if value not in (None, ""):
                pairs.append((key, _written(value)))
        pairs += [("order", self.order)] if self.order != "stability" else []
        pairs += [("view", self.view)] if self.view != "scale" else []
        pairs += [("page", str(self.page))] if self.page != 1 else []
        return urlencode(pairs)


def _written(value: object) -> str:
    if isinstance(value, ReadSize):
        return value.converted_from or f"{value.eu.normalize():f}"
    return f"{value:.12g}" if isinstance(value, float) else str(value)


# What a reader would remove as one filter, with its fields.
PARTS: Mapping[str, tuple[str, ...]] = {
    "q": ("q",),
    "band": ("bands",),
    "use": ("uses",),
    "wearer": ("wearer",),
    "width": ("width",),
    "size": ("size",),
    "store": ("store",),
    **{name: (f"{name}_min", f"{name}_max") for name in ("midfoot", "rearfoot", "cushioning")},
    "mass": ("mass_max",),
    "drop": ("drop_min", "drop_max"),
    "price": ("price_min", "price_max"),
    "photo": ("photo",),
}
_SINGLE = tuple(key for keys in PARTS.values() for key in keys if key not in ("bands", "uses"))
