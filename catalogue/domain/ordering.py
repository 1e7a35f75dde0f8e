"""What a store could order of one size of a shoe, by width fitting."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

UNKNOWN_WIDTH = ""


@dataclass(frozen=True, slots=True)
class WidthCount:
    """Pairs of one width of a size; `width` is empty for pairs whose width nobody recorded.

    `sold` and `chosen` count the days of the order list, `to_order` follows from the rest.
    """

    width: str
    held: int = 0
    reserved: int = 0
    on_the_way: int = 0
    sold: int = 0
    chosen: int = 0
    to_order: int = 0

    @property
    def lacking(self) -> int:
        """Pairs wanted over as many days again, less those that are there or coming; negative where some are left."""
        return max(self.sold, self.chosen) + self.reserved - self.held - self.on_the_way


def known_stock(counted: int, recorded: Mapping[str, int]) -> dict[str, int]:
    """Split the counted pairs of a size by the widths that were recorded when pairs came and went.

    Parameters
    ----------
    counted : pairs in the store, >= 0
    recorded : received less sold by width; without the pairs whose width was not recorded

    Returns
    -------
    dict
        Pairs by width; those of `UNKNOWN_WIDTH` are the rest.

    Notes
    -----
    Where the recorded widths add up to more than was counted, the count has overtaken them: all are unknown.
    """
    widths = {width: pairs for width, pairs in recorded.items() if width and pairs > 0}
    if sum(widths.values()) > counted:
        return {UNKNOWN_WIDTH: counted}
    return {**widths, UNKNOWN_WIDTH: counted - sum(widths.values())}


def lines_by_width(counted: int, recorded: Mapping[str, int]) -> dict[str, int]:
    """Split a size into the lines that a count by width has: every width that was recorded of it, sold out ones too.

    Parameters
    ----------
    counted, recorded : as `known_stock` takes them

    Returns
    -------
    dict
        Pairs by width; with `UNKNOWN_WIDTH` where some pairs are of it, or no width was ever recorded.

    Examples
    --------
    >>> lines_by_width(2, {"D": 2, "2E": 0}), lines_by_width(0, {})
    ({'D': 2, '2E': 0}, {'': 0})
    """
    known = known_stock(counted, recorded)
    named = {width: known.get(width, 0) for width in recorded if width}
    rest = known[UNKNOWN_WIDTH]
    return {**named, UNKNOWN_WIDTH: rest} if rest or not named else named


def short_width(held: Mapping[str, int], promised: Mapping[str, int]) -> str | None:
    """Return a width of which more pairs are promised than a store can have.

    Parameters
    ----------
    held : pairs in the store by width, as `known_stock` splits them
    promised : reserved pairs by width; those of `UNKNOWN_WIDTH` may be of any

    Returns
    -------
    str or None
        The width that lacks most, by name where several do; `UNKNOWN_WIDTH` where the size as a whole has too few
        pairs; None where all promises can be met.

    Examples
    --------
    >>> short_width({"D": 2, "": 0}, {"2E": 1})
    '2E'
    """
    lacking = {width: pairs - held.get(width, 0) for width, pairs in promised.items() if width}
    lacking = {width: pairs for width, pairs in lacking.items() if pairs > 0}
    if sum(lacking.values()) > held.get(UNKNOWN_WIDTH, 0):
        return min(lacking, key=lambda width: (-lacking[width], width))
    return UNKNOWN_WIDTH if sum(promised.values()) > sum(held.values()) else None


def with_orders(counts: Sequence[WidthCount]) -> tuple[WidthCount, ...]:
    """Return the widths of one size with the pairs to order of each.

    Parameters
    ----------
    counts : one a width, at most one of them of unknown width

    Returns
    -------
    tuple of WidthCount
        By width, the unknown one last.

    Notes
    -----
    A pair that was chosen and then sold counts once, also where its width was recorded at one of the two alone: what
    is left over of one is taken off the other. Spare pairs of unknown width cover the widths that lack most. The
    total is never below what the size lacks as a whole. Common practice, no source.

    Examples
    --------
    >>> [one.to_order for one in with_orders([WidthCount("2E", sold=2), WidthCount("D", held=3, sold=3)])]
    [2, 0]
    """
    known = sorted((one for one in counts if one.width), key=lambda one: (-one.lacking, one.width))
    unknown = next((one for one in counts if not one.width), WidthCount(UNKNOWN_WIDTH))
    only_sold = sum(max(0, one.sold - one.chosen) for one in known)
    only_chosen = sum(max(0, one.chosen - one.sold) for one in known)
    rest = replace(unknown, chosen=max(0, unknown.chosen - only_sold), sold=max(0, unknown.sold - only_chosen)).lacking
    spare, ordered = max(0, -rest), []
    for one in known:
        covered = min(spare, max(0, one.lacking))
        spare -= covered
        ordered.append(replace(one, to_order=max(0, one.lacking) - covered))
    ordered.sort(key=lambda one: one.width)
    return (*ordered, replace(unknown, to_order=max(0, rest)))
