"""Marks of one size in lanes along an axis: none touches another, and none is far from where it belongs."""

from __future__ import annotations

from collections.abc import Sequence

GAP_PX = 1.5


def in_lanes(homes: Sequence[float], *, radius: float, length: float, depth: float) -> list[tuple[float, float]]:
    """Place marks of one size in the strip along an axis.

    Parameters
    ----------
    homes : sequence of float
        Where each mark belongs along the axis, px, 0 to `length`.
    radius : float
        Of every mark, px, > 0.
    length, depth : float
        Of the strip in which the middles of the marks may lie, px, > 0.

    Returns
    -------
    list of (float, float)
        Along and across for each mark, in the order given. Equal homes keep this order. Marks touch only where the
        strip has no room for all of them.

    Raises
    ------
    ValueError
        A radius, length or depth that is not > 0.

    Notes
    -----
    From left to right each mark takes the lane nearest the middle that is free at its home; where none is, the one
    that is free soonest, and moves on until it is. What would stand beyond the end is then pushed back.

    Examples
    --------
    >>> in_lanes([10.0, 11.0, 90.0], radius=4.25, length=100.0, depth=20.0)
    [(10.0, 10.0), (11.0, 0.0), (90.0, 10.0)]
    """
    for name, value in (("radius", radius), ("length", length), ("depth", depth)):
        if not value > 0:
            raise ValueError(f"{name} must be > 0, got {value}")
    step = 2 * radius + GAP_PX
    lanes = _lanes(step, depth)
    free = [0.0] * len(lanes)
    held: list[list[int]] = [[] for _ in lanes]
    along = [0.0] * len(homes)
    across = [0.0] * len(homes)
    for mark in sorted(range(len(homes)), key=lambda index: homes[index]):
        home = homes[mark]
        lane = next((lane for lane, begin in enumerate(free) if begin <= home), -1)
        if lane < 0:
            lane = min(range(len(lanes)), key=free.__getitem__)
        along[mark], across[mark] = max(home, free[lane]), lanes[lane]
        free[lane] = along[mark] + step
        held[lane].append(mark)
    for marks in held:
        end = length
        for mark in reversed(marks):
            along[mark] = max(0.0, min(along[mark], end))
            end = along[mark] - step
    return list(zip(along, across, strict=True))


def _lanes(step: float, depth: float) -> list[float]:
    """Return where the lanes lie: one in the middle, and by turns below and above it."""
    beside = int(depth / 2 // step)
    return [depth / 2 + side * lane * step for lane in range(beside + 1) for side in ((-1, 1) if lane else (1,))]
