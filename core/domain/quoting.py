"""How a message repeats what somebody wrote: in quotation marks, short, on one line."""

from __future__ import annotations

QUOTED_MOST = 40
"""Characters of a text that a message repeats."""


def quoted(text: str, most: int = QUOTED_MOST) -> str:
    """Quote a text for a message, whatever it is made of.

    Parameters
    ----------
    text : the text; white space of any length becomes one space
    most : characters that are repeated; a longer text ends in "…"

    Notes
    -----
    Signs that cannot be seen are written as escapes: some (NUL, lone surrogates) can be neither stored nor sent.

    Examples
    --------
    >>> quoted("EU  42"), quoted("a" * 9, most=3), quoted("a\\x00")
    ('“EU 42”', '“aaa…”', '“a\\\\x00”')
    """
    flat = " ".join(text[: 10 * most].split())
    short = f"{flat[:most]}…" if len(flat) > most else flat
    return f"“{short if short.isprintable() else ''.join(map(_visible, short))}”"


def _visible(sign: str) -> str:
    return sign if sign.isprintable() else sign.encode("unicode_escape").decode()
