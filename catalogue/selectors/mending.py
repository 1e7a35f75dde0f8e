"""Columns of shoes, and how a few changed shoes are put into a hundred thousand without touching the rest."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from catalogue.domain.sieve import Bools, Floats, Ints

Key = tuple[str, str, str, str]


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Shoes by slug, column by column.

    `texts` are slug, brand, name, version and the name of the band; arrays have a row a shoe.
    """

    texts: tuple[tuple[str, ...], ...]
    ids: Ints
    marks: Ints
    flags: Bools
    numbers: Floats

    def key(self, row: int) -> Key:
        """Return what a shoe is sorted by in the order of names."""
        slug, brand, name, version, _ = (column[row] for column in self.texts)
        return brand.casefold(), name.casefold(), version, slug


@dataclass(frozen=True, slots=True, eq=False)
class Mended:
    """Lines with their rows by slug, and the place of each in the order of names."""

    lines: Lines
    rows: dict[str, int]
    by_name: Floats


def _ranked(order: Sequence[int] | Ints) -> Floats:
    ranks = np.empty(len(order), dtype=np.float64)
    ranks[np.asarray(order, dtype=np.intp)] = np.arange(len(order))
    return ranks


def _afresh(lines: Lines) -> Mended:
    order = sorted(range(len(lines.ids)), key=lines.key)
    return Mended(lines, {slug: row for row, slug in enumerate(lines.texts[0])}, _ranked(order))


def _spliced(held: NDArray[Any], gone: Ints, come: NDArray[Any], places: Sequence[int]) -> NDArray[Any]:
    return np.insert(np.delete(held, gone, axis=0), places, come, axis=0)


def _spliced_texts(held: tuple[str, ...], gone: Ints, come: Sequence[str], places: Sequence[int]) -> tuple[str, ...]:
    left = list(held)
    for row in gone[::-1].tolist():
        del left[row]
    for number, (place, text) in enumerate(zip(places, come, strict=True)):
        left.insert(place + number, text)
    return tuple(left)


def _ranks_with(ranks: Floats, lines: Lines, gone: Ints, come: Ints) -> Floats:
    """Put new rows into the order of names; rows that stay keep theirs."""
    stayed = np.ones(len(lines.ids), dtype=np.bool_)
    stayed[come] = False
    order = np.flatnonzero(stayed)[np.argsort(np.delete(ranks, gone), kind="stable")].tolist()
    for row in come.tolist():
        order.insert(bisect_left(order, lines.key(row), key=lines.key), row)
    return _ranked(order)


def mend(held: Mended | None, changed: Sequence[int], fresh: Lines) -> Mended:
    """Return the lines as they are once some shoes changed.

    Parameters
    ----------
    held
        What was known; None to begin with `fresh`.
    changed
        The ids of the shoes that may have changed, in order. One that is not among the fresh is not published any more.
    fresh
        Those of them that are published, as they are now.
    """
    if held is None:
        return _afresh(fresh)
    old = held.lines
    gone = np.flatnonzero(np.isin(old.ids, np.asarray(changed, dtype=np.intp)))
    left = np.delete(np.arange(len(old.ids)), gone)
    places = [bisect_left(left, slug, key=lambda row: old.texts[0][row]) for slug in fresh.texts[0]]
    texts = tuple(_spliced_texts(before, gone, now, places) for before, now in zip(old.texts, fresh.texts, strict=True))
    lines = Lines(
        texts,
        _spliced(old.ids, gone, fresh.ids, places),
        _spliced(old.marks, gone, fresh.marks, places),
        _spliced(old.flags, gone, fresh.flags, places),
        _spliced(old.numbers, gone, fresh.numbers, places),
    )
    come = np.asarray(places, dtype=np.intp) + np.arange(len(places))
    named = [[old.key(row) for row in gone.tolist()], [lines.key(row) for row in come.tolist()]]
    if named[0] == named[1]:
        # The usual case, new scores of known shoes: nobody moved.
        return Mended(lines, held.rows, held.by_name)
    rows = {slug: row for row, slug in enumerate(texts[0])}
    return Mended(lines, rows, _ranks_with(held.by_name, lines, gone, come))
