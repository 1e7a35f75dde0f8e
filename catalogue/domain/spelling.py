"""Words that were probably meant: the known ones that share most pairs of letters with a word that is not known."""

from __future__ import annotations

import unicodedata
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

ALIKE = 0.5
"""The least Dice coefficient at which a word is offered; our own choice."""

LOOKED_AT = 8
"""How many of the most alike words are compared letter by letter."""


def folded(word: str) -> str:
    """Return a word in lower case, without accents.

    Examples
    --------
    >>> folded("Häll")
    'hall'
    """
    return "".join(letter for letter in unicodedata.normalize("NFKD", word.casefold()) if letter.isalnum())


def pairs(word: str) -> frozenset[str]:
    """Return the pairs of letters that stand beside each other, beginning and end included.

    Examples
    --------
    >>> sorted(pairs("fen"))
    [' f', 'en', 'fe', 'n ']
    """
    padded = f" {folded(word)} "
    return frozenset(padded[place : place + 2] for place in range(len(padded) - 1))


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Known words, each once, in order; `holding` leads from a pair of letters to the words that have it."""

    words: tuple[str, ...]
    holding: Mapping[str, Sequence[int]]
    sizes: tuple[int, ...]

    def knows(self, beginning: str) -> bool:
        """Say whether some word begins like this; letters of any case, with or without accents."""
        asked = folded(beginning)
        return any(folded(self.words[place]).startswith(asked) for place in self.holding.get(f" {asked[:1]}", ()))

    def nearest(self, word: str) -> str | None:
        """Return the known word that is most like another one, or None where none is like it.

        Parameters
        ----------
        word : the word that is not known; what is not a letter or digit in it does not count

        Returns
        -------
        str or None
            Of the words whose pairs of letters have a Dice coefficient, 2 |A ∩ B| / (|A| + |B|), of at least `ALIKE`,
            the one that has most letters in the same order (`difflib`); of equal ones the first in the alphabet.

        References
        ----------
        .. [1] L. R. Dice, Measures of the amount of ecologic association between species, Ecology 26 (1945) 297.

        Examples
        --------
        >>> vocabulary(["lantern", "corvane", "reed"]).nearest("lantren")
        'lantern'
        """
        asked = pairs(word)
        shared = Counter(place for pair in asked for place in self.holding.get(pair, ()))
        likeness = {place: 2 * count / (len(asked) + self.sizes[place]) for place, count in shared.items()}
        alike = sorted((place for place in likeness if likeness[place] >= ALIKE), key=lambda place: -likeness[place])
        ratios = {place: _ratio(word, self.words[place]) for place in alike[:LOOKED_AT]}
        found = max(ratios, key=lambda place: (ratios[place], -place), default=None)
        return None if found is None else self.words[found]


def _ratio(word: str, known: str) -> float:
    return SequenceMatcher(None, folded(word), folded(known), autojunk=False).ratio()


def vocabulary(words: Iterable[str]) -> Vocabulary:
    """Make known words ready to be asked about.

    Examples
    --------
    >>> vocabulary(["reed", "Reed", "sedge"]).words
    ('reed', 'sedge')
    """
    known = tuple(sorted({word.casefold() for word in words if folded(word)}))
    holding: defaultdict[str, list[int]] = defaultdict(list)
    of_words = [pairs(word) for word in known]
    for place, found in enumerate(of_words):
        for pair in found:
            holding[pair].append(place)
    return Vocabulary(known, dict(holding), tuple(len(found) for found in of_words))
