"""Names of files as they may be stored and shown."""

from __future__ import annotations

import re

# Control characters, and those that turn the direction of writing and with it what a name seems to end in (Unicode
# Standard Annex 9, table 1: the marks, embeddings, overrides and isolates).
HIDDEN = re.compile(r"[\x00-\x1f\x7f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]+")


def shown_name(name: str) -> str:
    """Return a name without the characters that are not shown.

    Examples
    --------
    >>> shown_name("rig\\u202evsc.exe")
    'rigvsc.exe'
    """
    return HIDDEN.sub("", name)
