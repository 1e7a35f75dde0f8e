"""Small counts hidden, with enough others that none can be worked out again from the totals."""

from __future__ import annotations

from collections.abc import Sequence

SMALL_CELL = 5
"""Counts under this are hidden where stores are added up."""

Cell = tuple[int, int]
Row = tuple[int | None, ...]
# A row or a column, and a step from one to the other by the cell in which they meet.
Place = tuple[str, int]
Step = tuple[Place, Place]


def hide_small(counts: Sequence[int], *, minimum: int = SMALL_CELL, total_shown: bool = True) -> tuple[int | None, ...]:
    """Hide counts that could point at a person.

    Parameters
    ----------
    counts : sequence of int, shape (n,)
        Counts, 0 or more.
    minimum : int
        Counts under this are hidden, 0 too.
    total_shown : bool
        Whether the sum is shown beside them: a single hidden count would then follow by subtraction, and so would
        several that add up to less than the minimum, so the smallest of the others is hidden with them.

    Returns
    -------
    tuple of (int or None)
        None where hidden.

    Raises
    ------
    ValueError
        When a count is negative.

    Examples
    --------
    >>> hide_small([3, 40, 12])
    (None, 40, None)
    """
    _check_counts(counts)
    hidden = {index for index, count in enumerate(counts) if count < minimum}
    others = sorted((index for index in range(len(counts)) if index not in hidden), key=lambda index: counts[index])
    while total_shown and others and hidden and (len(hidden) == 1 or sum(counts[i] for i in hidden) < minimum):
        hidden.add(others.pop(0))
    return tuple(None if index in hidden else count for index, count in enumerate(counts))


def hide_cells(counts: Sequence[Sequence[int]], *, minimum: int = SMALL_CELL) -> tuple[Row, ...]:
    """Hide the small counts of a table of two ways whose row and column totals are shown.

    Parameters
    ----------
    counts : sequence of sequences of int, shape (r, c)
        Counts, 0 or more.
    minimum : int
        Counts under this are hidden, 0 too.

    Returns
    -------
    tuple of tuples of (int or None)
        None where hidden.

    Raises
    ------
    ValueError
        When rows differ in length or a count is negative.

    Notes
    -----
    Hidden cells are the edges between their rows and columns. An edge that is in no ring follows from the totals, so
    for each such edge the smallest count that could close a ring is hidden with it. A row or column whose hidden
    counts add up to less than the minimum gives them away too (no count is below 0) and hides its next smallest.
    So does a cell that is in no ring in which counts can be raised and lowered in turn, since no count is below 0.

    References
    ----------
    .. [1] Gusfield D., SIAM J Comput 17:552 (1988): a graph of the hidden cells of a table.

    Examples
    --------
    >>> hide_cells([[3, 40, 12], [20, 30, 10], [9, 11, 25]])
    ((None, 40, None), (20, 30, 10), (None, 11, None))
    """
    table = [list(row) for row in counts]
    _check(table)
    hidden = {(i, j) for i, row in enumerate(table) for j, count in enumerate(row) if count < minimum}
    while more := _giving_away(table, hidden, minimum):
        hidden.add(more)
    return tuple(tuple(None if (i, j) in hidden else count for j, count in enumerate(r)) for i, r in enumerate(table))


def _check(table: list[list[int]]) -> None:
    if len({len(row) for row in table}) > 1:
        raise ValueError("counts must have rows of one length")
    for row in table:
        _check_counts(row)


def _check_counts(counts: Sequence[int]) -> None:
    for count in counts:
        if isinstance(count, bool) or not isinstance(count, int) or count < 0:
            raise ValueError(f"counts must be whole numbers >= 0, got {count!r}")


def _giving_away(table: list[list[int]], hidden: set[Cell], minimum: int) -> Cell | None:
    """The next count to hide, or None where nothing can be worked out any more or nothing is left to hide."""
    for line in _lines(table):
        inside = [cell for cell in line if cell in hidden]
        if inside and sum(table[i][j] for i, j in inside) < minimum:
            closing = _smallest(table, [cell for cell in line if cell not in hidden])
            if closing:
                return closing
    for cell in sorted(hidden):
        if not _in_ring(hidden, cell):
            closing = _closing(table, hidden, cell)
            if closing:
                return closing
    for i, j in _pinned(table, hidden):
        beside = [(a, b) for line in _lines(table) if (i, j) in line for a, b in line if (a, b) not in hidden]
        closing = _smallest(table, beside)
        if closing:
            return closing
    return None


def _pinned(table: list[list[int]], hidden: set[Cell]) -> list[Cell]:
    """Hidden cells that can have one value alone, as no count is below 0.

    With all totals as they are, counts change in rings only, raised and lowered in turn; a count of 0 can't be lowered.
    A step from a row to a column raises the cell in which they meet, one from a column to a row lowers it.
    """
    raised = {(("row", i), ("column", j)) for i, j in hidden}
    lowered = {(("column", j), ("row", i)) for i, j in hidden if table[i][j] > 0}
    pinned = []
    for i, j in sorted(hidden):
        up, down = (("row", i), ("column", j)), (("column", j), ("row", i))
        others = (raised | lowered) - {up, down}
        can_rise = _leads(others, *down)
        can_fall = down in lowered and _leads(others, *up)
        if not can_rise and not can_fall:
            pinned.append((i, j))
    return pinned


def _leads(steps: set[Step], start: Place, end: Place) -> bool:
    """Return whether a chain of steps leads from one row or column to another."""
    reached, last = {start}, set[Place]()
    while reached != last:
        last = reached
        reached = last | {there for here, there in steps if here in last}
    return end in reached


def _lines(table: list[list[int]]) -> list[list[Cell]]:
    """Every row and every column as its cells."""
    rows = [[(i, j) for j in range(len(row))] for i, row in enumerate(table)]
    return rows + [list(column) for column in zip(*rows, strict=True)]


def _smallest(table: list[list[int]], cells: list[Cell]) -> Cell | None:
    return min(cells, key=lambda cell: (table[cell[0]][cell[1]], cell), default=None)


def _reached(hidden: set[Cell], row: int) -> tuple[set[int], set[int]]:
    """Rows and columns that hang together with a row by hidden cells."""
    rows, columns, grown = {row}, set[int](), True
    while grown:
        found_columns = {j for i, j in hidden if i in rows}
        found_rows = {i for i, j in hidden if j in found_columns} | rows
        grown = found_rows != rows or found_columns != columns
        rows, columns = found_rows, found_columns
    return rows, columns


def _in_ring(hidden: set[Cell], cell: Cell) -> bool:
    return cell[1] in _reached(hidden - {cell}, cell[0])[1]


def _closing(table: list[list[int]], hidden: set[Cell], cell: Cell) -> Cell | None:
    """The smallest count that joins the two sides of a cell by another way; where none does, any in its row or column.

    Hiding one in its row or column makes the next round close a ring over it.
    """
    rest = hidden - {cell}
    rows_here, columns_here = _reached(rest, cell[0])
    rows_there = {i for i, j in rest if j == cell[1]}
    for i in tuple(rows_there):
        rows_there |= _reached(rest, i)[0]
    columns_there = {j for i, j in rest if i in rows_there} | {cell[1]}
    every = [(i, j) for i, row in enumerate(table) for j in range(len(row)) if (i, j) not in hidden]
    joins = [
        (i, j) for i, j in every if (i in rows_here and j in columns_there) or (i in rows_there and j in columns_here)
    ]
    return _smallest(table, joins) or _smallest(table, [(i, j) for i, j in every if i == cell[0] or j == cell[1]])
