"""Rows about people made so coarse that at least k people share what others could know of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

Known = Mapping[str, str]
"""What others could know of a person: a value for each column, empty where it is left out."""

FEWEST_ALIKE = 5


@dataclass(frozen=True, slots=True)
class Anonymous:
    """What is left of each person, in the order given; None for those who are left out altogether."""

    rows: tuple[Known | None, ...]
    suppressed: int
    blanked: Mapping[str, int]


def k_anonymous(rows: Sequence[Known], give_up: Sequence[str], k: int = FEWEST_ALIKE) -> Anonymous:
    """Leave out values, and people where that is not enough, until each combination is of at least k people.

    Parameters
    ----------
    rows : sequence of mapping
        One a person, all with the same columns.
    give_up : sequence of str
        Columns in the order in which they may be left out, the least needed first.
    k : int
        How many people must share a combination, 1 or more.

    Returns
    -------
    Anonymous
        The rows, how many people were left out, and of how many people each column was.

    Raises
    ------
    ValueError
        When k is below 1 or rows differ in their columns.

    Notes
    -----
    A column is left out of all people whose combination is too rare, and then the next, so that somebody common keeps
    everything. Who is still rare at the end is left out; nobody else becomes rare by it.

    References
    ----------
    .. [1] Samarati P., Sweeney L., SRI-CSL-98-04 (1998): k-anonymity by generalisation and suppression.

    Examples
    --------
    >>> rows = [{"store": "a", "use": "running"}] * 5 + [{"store": "b", "use": "running"}]
    >>> k_anonymous(rows * 1, ["store"], k=2).rows[-1] is None
    True
    >>> k_anonymous([*rows, {"store": "c", "use": "running"}], ["store"], k=2).rows[-1]
    {'store': '', 'use': 'running'}
    """
    if k < 1:
        raise ValueError(f"k must be >= 1, got {k}")
    if len({tuple(sorted(row)) for row in rows}) > 1:
        raise ValueError("rows must all have the same columns")
    left: list[Known] = [dict(row) for row in rows]
    blanked = dict.fromkeys(give_up, 0)
    for column in give_up:
        rare = _rare(left, k)
        blanked[column] = sum(is_rare and bool(row[column]) for row, is_rare in zip(left, rare, strict=True))
        left = [{**row, column: ""} if is_rare else row for row, is_rare in zip(left, rare, strict=True)]
    rare = _rare(left, k)
    kept = tuple(None if is_rare else row for row, is_rare in zip(left, rare, strict=True))
    return Anonymous(kept, sum(rare), blanked)


def _rare(rows: Sequence[Known], k: int) -> list[bool]:
    combinations = [tuple(sorted(row.items())) for row in rows]
    people = Counter(combinations)
    return [people[combination] < k for combination in combinations]


def banded(value: float | None, width: int) -> str:
    """The band of a value, such as "70 to under 80".

    Parameters
    ----------
    value : float or None
        Any unit, 0 or more.
    width : int
        Of the bands, in the same unit, 1 or more.

    Returns
    -------
    str
        Empty for None.

    Raises
    ------
    ValueError
        When a value is out of range.

    Examples
    --------
    >>> banded(79.9, 10)
    '70 to under 80'
    """
    if value is None:
        return ""
    if width < 1 or not value >= 0:
        raise ValueError(f"value must be >= 0 and width >= 1, got {value} and {width}")
    low = int(value // width) * width
    return f"{low} to under {low + width}"
