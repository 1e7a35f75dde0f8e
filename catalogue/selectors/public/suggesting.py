"""What a reader probably meant by words that no shoe has: from the names in memory, without a query of its own."""

from __future__ import annotations

from catalogue.domain.search_words import words_of
from catalogue.domain.spelling import Vocabulary, vocabulary
from catalogue.selectors.public.columns import Columns, columns_at
from catalogue.selectors.public.revision import Revision
from catalogue.selectors.public.selection import shoe_ids_named

# More words are no name of a shoe, and each costs a look through the vocabulary.
WORDS_MOST = 6


def _vocabulary(columns: Columns) -> Vocabulary:
    texts = {*columns.brands, *columns.names, *columns.versions}
    return vocabulary(word for text in texts for word in words_of(text))


def did_you_mean(words: str, *, revision: Revision) -> str | None:
    """Return other words that some published shoe has in its name, or None: at most one query.

    Words of the catalogue stay as they are; each of the others is replaced by the one that is written most like it.
    """
    columns = columns_at(revision)
    asked = words_of(words)
    if not 0 < len(asked) <= WORDS_MOST:
        return None
    known = columns.once("vocabulary", lambda: _vocabulary(columns))
    meant = [word if known.knows(word) else known.nearest(word) for word in asked]
    if None in meant or meant == asked:
        return None
    text = " ".join(word for word in meant if word)
    return text if len(columns.rows_of(shoe_ids_named(text))) else None
