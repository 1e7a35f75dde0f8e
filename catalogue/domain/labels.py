"""Labels along a line, moved as little as needed so that none covers another."""

from __future__ import annotations

from collections.abc import Sequence


def spread_out(homes: Sequence[float], *, apart: float, low: float, high: float) -> list[float]:
    """Move places along a line until they are `apart`, and back from its end.

    Parameters
    ----------
    homes : sequence of float
        Where each label belongs, px, in any order.
    apart : float
        The least distance of two labels, px, > 0.
    low, high : float
        Of the line, px. Where it is too short for all labels they reach below `low`.

    Returns
    -------
    list of float
        In the order given.

    Raises
    ------
    ValueError
        `apart` is not > 0.

    Examples
    --------
    >>> spread_out([50.0, 48.0, 99.0], apart=10.0, low=0.0, high=100.0)
    [58.0, 48.0, 99.0]
    """
    if not apart > 0:
        raise ValueError(f"apart must be > 0, got {apart}")
    places = list(homes)
    order = sorted(range(len(homes)), key=homes.__getitem__)
    free = low
    for label in order:
        places[label] = max(places[label], free)
        free = places[label] + apart
    end = high
    for label in reversed(order):
        places[label] = min(places[label], end)
        end = places[label] - apart
    return places
