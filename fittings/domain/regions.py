"""Body regions and sides of a complaint, and a forgiving reader for them.

The areas are those of the International Olympic Committee consensus on recording injury (Bahr et al. 2020), from
memory; three finer regions are added because the need rules ask for them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from core.domain.quoting import quoted

REGIONS: dict[str, str] = {
    "heel": "heel",
    "inner_shin": "inner shin",
    "front_of_knee": "front of the knee",
    "foot": "foot",
    "ankle": "ankle",
    "lower_leg": "lower leg",
    "knee": "knee",
    "thigh": "thigh",
    "hip_groin": "hip or groin",
    "lumbosacral": "lower back",
    "abdomen": "abdomen",
    "thoracic_spine": "upper back",
    "chest": "chest",
    "neck": "neck",
    "head": "head",
    "shoulder": "shoulder",
    "upper_arm": "upper arm",
    "elbow": "elbow",
    "forearm": "forearm",
    "wrist": "wrist",
    "hand": "hand",
    "multiple": "several regions",
    "unspecified": "region not stated",
}
"""Code of each region and the words for it, lower limb first because that is what a fitter meets."""

SIDES: dict[str, str] = {"left": "left", "right": "right", "both": "both sides"}

_OTHER_WORDS: dict[str, str] = {
    "hip": "hip_groin",
    "groin": "hip_groin",
    "hip_or_groin": "hip_groin",
    "shin": "lower_leg",
    "medial_shin": "inner_shin",
    "anterior_knee": "front_of_knee",
    "front_of_the_knee": "front_of_knee",
    "lower_back": "lumbosacral",
    "upper_back": "thoracic_spine",
    "several_regions": "multiple",
}


@dataclass(frozen=True, slots=True)
class Complaint:
    """One item of a person's history: where it hurt, whether it does now, and since when it no longer does."""

    region: str
    side: str | None = None
    now: bool = False
    settled_on: date | None = None


def code_of(text: str) -> str:
    """Bring free writing to the shape of a code: lower case, one underscore for each run of other signs.

    Parameters
    ----------
    text : str
        Any writing.

    Returns
    -------
    str
        The same words as a code.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> code_of(" Front-of  Knee ")
    'front_of_knee'
    """
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")


def read_region(text: object) -> str:
    """Code of the body region that `text` names.

    Parameters
    ----------
    text : object
        A code or its words; capitals, spaces, hyphens and strokes do not matter.

    Returns
    -------
    str
        A key of `REGIONS`.

    Raises
    ------
    TypeError
        When it is no text.
    ValueError
        When no region has that name.

    References
    ----------
    .. [1] Bahr R. et al., Br J Sports Med 54:372 (2020), body areas, from memory.

    Examples
    --------
    >>> read_region("Inner shin")
    'inner_shin'
    >>> read_region("hip/groin")
    'hip_groin'
    """
    if not isinstance(text, str):
        raise TypeError(f"region must be a text such as “heel”, got {text!r}")
    code = code_of(text)
    code = _OTHER_WORDS.get(code, code)
    if code not in REGIONS:
        raise ValueError(f"region must be one of {', '.join(REGIONS)}, got {quoted(text)}")
    return code


def read_side(text: object) -> str | None:
    """Code of a side of the body; nothing written means that the side is not known.

    Parameters
    ----------
    text : object
        ``left``, ``right`` or ``both`` (any capitals), or None or an empty text.

    Returns
    -------
    str or None
        A key of `SIDES`, or None when not stated.

    Raises
    ------
    TypeError
        When it is neither text nor None.
    ValueError
        When it is another word.

    Examples
    --------
    >>> read_side("Left")
    'left'
    >>> read_side(None) is None
    True
    """
    if text is None:
        return None
    if not isinstance(text, str):
        raise TypeError(f"side must be left, right, both or null, got {text!r}")
    code = code_of(text)
    if not code:
        return None
    if code not in SIDES:
        raise ValueError(f"side must be left, right, both or null, got {quoted(text)}")
    return code


def place_words(region: str, side: str | None) -> str:
    """Words for a region and side, for a sentence.

    Parameters
    ----------
    region : str
        A key of `REGIONS`.
    side : str or None
        A key of `SIDES`, or None when not known.

    Returns
    -------
    str
        For example ``"heel, left"``.

    Raises
    ------
    KeyError
        When either is no code.

    Examples
    --------
    >>> place_words("front_of_knee", "both")
    'front of the knee, both sides'
    """
    words = REGIONS[region]
    return words if side is None else f"{words}, {SIDES[side]}"
