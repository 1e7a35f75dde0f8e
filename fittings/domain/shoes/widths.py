"""Widths: whether a foot is wide for its length, and whether a shoe is made that wide.

Every border here is common practice, no source: makers letter their widths differently, and trying on decides.
"""

from __future__ import annotations

from collections.abc import Sequence

from core.domain.quoting import quoted
from fittings.domain.bounds import LIMITS, number_within

NARROW, MEDIUM, WIDE = "narrow", "medium", "wide"
NARROW_BELOW, WIDE_ABOVE = 0.365, 0.405
"""Width over length of a foot: below the one it is narrow, above the other wide."""

_WORDS = {
    "NARROW": NARROW,
    "SLIM": NARROW,
    "STANDARD": MEDIUM,
    "REGULAR": MEDIUM,
    "MEDIUM": MEDIUM,
    "NORMAL": MEDIUM,
    "WIDE": WIDE,
    "EXTRA WIDE": WIDE,
    "4A": NARROW,
    "2A": NARROW,
    "AA": NARROW,
    "M": MEDIUM,
    "N": NARROW,
    "W": WIDE,
    "2E": WIDE,
    "EE": WIDE,
    "4E": WIDE,
    "6E": WIDE,
}
_MEN = {"B": NARROW, "D": MEDIUM, "E": WIDE}
_WOMEN = {"B": MEDIUM, "D": WIDE, "E": WIDE}


def foot_width(feet: Sequence[tuple[float | None, float | None]]) -> str:
    """Say how wide the wider of two feet is for its length.

    Parameters
    ----------
    feet : sequence of (length, width)
        In mm, 100 to 400 and 40 to 200; None where not measured.

    Returns
    -------
    str
        ``"narrow"``, ``"medium"`` or ``"wide"``; empty where no foot has both measures.

    Raises
    ------
    ValueError
        When a measure is outside its range.

    Examples
    --------
    >>> foot_width([(265.0, 101.0), (266.0, 110.0)]), foot_width([(265.0, None)])
    ('wide', '')
    """
    ratios = [
        number_within("foot_width_mm", width, *LIMITS["width_mm"])
        / number_within("foot_length_mm", length, *LIMITS["length_mm"])
        for length, width in feet
        if length is not None and width is not None
    ]
    if not ratios:
        return ""
    widest = max(ratios)
    return NARROW if widest < NARROW_BELOW else WIDE if widest > WIDE_ABOVE else MEDIUM


def width_of_shoe(name: str, wearer: str) -> str:
    """Say how wide a width fitting is.

    Parameters
    ----------
    name : str
        As the maker writes it: ``"D"``, ``"2E"``, ``"wide"``.
    wearer : str
        ``"women"`` reads the letters as for women, any other as for men.

    Returns
    -------
    str
        ``"narrow"``, ``"medium"`` or ``"wide"``; empty for a name that is not known.

    Examples
    --------
    >>> width_of_shoe("D", "men"), width_of_shoe("D", "women"), width_of_shoe("roomy", "men")
    ('medium', 'wide', '')
    """
    plain = " ".join(name.upper().split())
    return _WORDS.get(plain) or (_WOMEN if wearer == "women" else _MEN).get(plain, "")


def width_remark(foot: str, widths: Sequence[str], wearer: str) -> tuple[str, bool]:
    """Compare a foot's width with those that a shoe is made in.

    Parameters
    ----------
    foot : str
        As `foot_width` says it.
    widths : sequence of str
        The shoe's width fittings, as the maker writes them.
    wearer : str
        As for `width_of_shoe`.

    Returns
    -------
    (str, bool)
        A sentence, empty where the foot's or the shoe's widths are not known, and whether it is a warning.

    Examples
    --------
    >>> width_remark("wide", ["D", "2E"], "men")
    ('Made in 2E, which is wide like the foot', False)
    >>> width_remark("wide", ["D"], "men")
    ('Made in D only, and the foot is wide for its length: try the width on, standing', True)
    """
    if not foot or not widths:
        return "", False
    sizes = {name: width_of_shoe(name, wearer) for name in widths}
    fitting = [name for name, size in sizes.items() if size == foot]
    if fitting:
        return f"Made in {', '.join(fitting)}, which is {foot} like the foot", False
    made = f"Made in {', '.join(widths)}"
    if not any(sizes.values()):
        return f"{made}: ask which of them suits a foot that is {foot} for its length", True
    return f"{made} only, and the foot is {foot} for its length: try the width on, standing", True


def width_of_pair(said: str, widths: Sequence[str]) -> str:
    """Return the width fitting of a pair, as the maker writes it.

    Parameters
    ----------
    said : str
        As it was written; empty where it was not said.
    widths : sequence of str
        The width fittings that the shoe is made in.

    Returns
    -------
    str
        Empty where it was not said, or where the shoe is made in one width only and nothing needs saying.

    Raises
    ------
    ValueError
        When the shoe is not made in this width, or no widths are stated of it.

    Examples
    --------
    >>> width_of_pair("2e", ["D", "2E"]), width_of_pair("d", ["D"]), width_of_pair("", ["D", "2E"])
    ('2E', '', '')
    """
    plain = " ".join(said.upper().split())
    if not plain:
        return ""
    known = {" ".join(name.upper().split()): name for name in widths}
    if plain not in known:
        made = f"It is made in {', '.join(widths)}" if widths else "No widths are stated of this shoe"
        raise ValueError(f"{made}, got {quoted(said)}. Leave the width out where it is not known.")
    return known[plain] if len(widths) > 1 else ""
