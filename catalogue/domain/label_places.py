"""Where labels are put beside a scale, so that none covers another."""

from __future__ import annotations

from collections.abc import Sequence


def spread(homes: Sequence[float], *, gap: float, low: float, high: float) -> list[float]:
    """Return places for labels so that neighbours are `gap` apart and each is near its home.

    Parameters
    ----------
    homes : sequence of float
        Where each label belongs, ascending.
    gap : float
        Between two neighbours, > 0; smaller where all of them would not fit.
    low, high : float
        Ends of the room.

    Returns
    -------
    list of float
        A place for each label, in the order given.

    Raises
    ------
    ValueError
        A gap that is not > 0.

    Notes
    -----
    Labels that would overlap are put side by side around the mean of their homes (pooling of adjacent violators on
    homes less their rank times the gap), which keeps the sum of squared distances from their homes least.

    Examples
    --------
    >>> spread([10.0, 10.0, 50.0], gap=4.0, low=0.0, high=60.0)
    [8.0, 12.0, 50.0]
    """
    if not gap > 0:
        raise ValueError(f"gap must be > 0, got {gap}")
    if len(homes) > 1:
        gap = min(gap, (high - low) / (len(homes) - 1))
    last = high - gap * max(0, len(homes) - 1)
    pools: list[tuple[float, int]] = []
    for rank, home in enumerate(homes):
        mean, size = home - rank * gap, 1
        while pools and pools[-1][0] >= mean:
            before, count = pools.pop()
            mean, size = (before * count + mean * size) / (count + size), count + size
        pools.append((mean, size))
    bases = [min(max(mean, low), max(last, low)) for mean, size in pools for _ in range(size)]
    return [base + rank * gap for rank, base in enumerate(bases)]
