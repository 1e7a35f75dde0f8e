"""The order in which a gauge study is tested: at random within each round, so that no drift passes for a difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Run:
    """One test to make; `trial` counts from 1."""

    trial: int
    operator: str
    part: str


def run_order(parts: Sequence[str], operators: Sequence[str], trials: int, *, rng: np.random.Generator) -> list[Run]:
    """Plan the tests of a crossed study.

    Parameters
    ----------
    parts, operators : sequence of str
        All different.
    trials : int
        ≥ 1, of each part by each operator.
    rng : numpy.random.Generator
        Decides the order.

    Returns
    -------
    list of Run
        Trial by trial; within a trial operators in random order, each with the parts in a random order of their own, so
        that nobody remembers the reading before.

    References
    ----------
    .. [1] Randomised trials within operators: common practice of gauge studies, no source.

    Examples
    --------
    >>> len(run_order(["a", "b"], ["x", "y"], 3, rng=np.random.default_rng(1)))
    12
    """
    if trials < 1:
        raise ValueError(f"trials must be ≥ 1, got {trials}")
    return [
        Run(trial, str(operator), str(part))
        for trial in range(1, trials + 1)
        for operator in rng.permutation(np.asarray(operators, dtype=np.str_))
        for part in rng.permutation(np.asarray(parts, dtype=np.str_))
    ]
