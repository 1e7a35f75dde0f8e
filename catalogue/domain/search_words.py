"""Words that a reader types, as PostgreSQL's full-text search takes them."""

from __future__ import annotations

import re

# The same marks that the database turns into blanks before it reads a name (triggers/search.sql).
_BETWEEN_WORDS = re.compile(r"[\W_]+")


def words_of(text: str) -> list[str]:
    """Return the words of a search, in lower case.

    Examples
    --------
    >>> words_of("Wi-Fi 3/4, %")
    ['wi', 'fi', '3', '4']
    """
    return [word for word in _BETWEEN_WORDS.split(text.lower()) if word]


def search_query(text: str) -> str:
    """Return a text-search query that wants every word, or "" where there is none.

    A word may be the beginning of one, except a number that is not the last: "lan 2" means version 2, not 21, until
    something follows.

    Examples
    --------
    >>> search_query("Corv 2 lan")
    "'corv':* & '2' & 'lan':*"
    """
    words = words_of(text)
    last = len(words) - 1
    return " & ".join(
        f"'{word}'" if word.isdigit() and place < last else f"'{word}':*" for place, word in enumerate(words)
    )
