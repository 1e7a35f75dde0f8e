"""What a clinician asks for. It comes before the rules, and is always shown as the clinician's."""

from __future__ import annotations

from collections.abc import Iterable

from core.domain.quoting import quoted

NO_WISH = "none"
WISHES: dict[str, str] = {
    "insole": "an insole or orthosis, so a shoe whose own insole comes out",
    "stiff_shoe": "a stiff shoe",
    "soft_shoe": "a soft shoe",
    "no_running": "no running for now",
    NO_WISH: "no particular shoe",
}
"""Code of each wish and the words for it."""

RANKED_BY: dict[str, tuple[str, str]] = {
    "stiff_shoe": ("midfoot", "the stiffest in torsion come first; how a shoe bends is not measured"),
    "soft_shoe": ("cushioning", "the softest come first"),
}
"""Wishes that the order of the shoes follows: the score, higher first, and what is said of it."""


def ranking_wish(codes: Iterable[str]) -> str:
    """Return the wish that the order of the shoes in the target follows.

    Parameters
    ----------
    codes : iterable of str
        Keys of `WISHES`.

    Returns
    -------
    str
        A key of `RANKED_BY`, a stiff shoe before a soft one where both are asked for; empty where none is.

    References
    ----------
    .. [1] Common practice, no source: which shoe is stiff or soft enough is the clinician's to say.

    Examples
    --------
    >>> ranking_wish(["insole", "soft_shoe"])
    'soft_shoe'
    """
    given = set(codes)
    return next((code for code in RANKED_BY if code in given), "")


def check_wishes(codes: Iterable[str]) -> tuple[str, ...]:
    """Wishes of a clinician, each once, in the order of the list.

    Parameters
    ----------
    codes : iterable of str
        Keys of `WISHES`.

    Returns
    -------
    tuple of str
        The same.

    Raises
    ------
    ValueError
        When a code is unknown, when there is none, or when "none" is named together with another.

    Examples
    --------
    >>> check_wishes(["stiff_shoe", "insole"])
    ('insole', 'stiff_shoe')
    """
    given = set(codes)
    unknown = sorted(given - set(WISHES))
    if unknown:
        raise ValueError(f"wishes must be of {', '.join(WISHES)}, got {quoted(unknown[0])}")
    if not given:
        raise ValueError("Tick what the clinician asks for, or “no particular shoe”.")
    if NO_WISH in given and len(given) > 1:
        raise ValueError("Tick what the clinician asks for or “no particular shoe”, not both.")
    return tuple(code for code in WISHES if code in given)


def wish_words(codes: Iterable[str]) -> str:
    """Wishes in words, in one line.

    Parameters
    ----------
    codes : iterable of str
        Keys of `WISHES`.

    Returns
    -------
    str
        The words, divided by semicolons.

    Raises
    ------
    KeyError
        When a code is unknown.

    Examples
    --------
    >>> wish_words(["stiff_shoe"])
    'a stiff shoe'
    """
    return "; ".join(WISHES[code] for code in codes)
