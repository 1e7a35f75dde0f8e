"""Cox model of a million people in whole days: lifelines on the same people in the same run, equal to 1e-6.

Run with ``python -m bench.cox``; ``--people 50000`` is quicker.
"""

from __future__ import annotations

import argparse
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np

from bench.measure import Line, interleave, report

FASTER, EQUAL = 10.0, 1e-6
NAMES = ("in_target", "body_mass", "complaints", "distance")


def made_up(people: int) -> tuple[Any, Any, Any]:
    """Terms as the outcomes' model has them, days at risk, and whether a recurrence ended them."""
    draw = np.random.default_rng(20261128)
    design = np.column_stack(
        [
            draw.random(people) < 0.8,
            draw.normal(7.4, 1.3, people),
            draw.integers(1, 5, people),
            draw.gamma(3.0, 0.9, people),
        ]
    ).astype(np.float64)
    until = draw.exponential(400.0 * np.exp(-(design @ [-0.2, 0.05, 0.2, 0.03]) + 0.5)).astype(np.int64) + 1
    watched = draw.integers(14, 200, people)
    return design, np.minimum(until, watched), until <= watched


def contestants(people: int) -> dict[str, Callable[[], Any]]:
    import pandas as pd
    from lifelines import CoxPHFitter

    from fittings.domain.outcomes.cox import cox_model

    design, days, event = made_up(people)
    frame = pd.DataFrame(design, columns=list(NAMES)).assign(days=days, event=event)
    person = np.arange(people)
    return {
        "ours": lambda: cox_model(design, days, event, NAMES),
        "robust": lambda: cox_model(design, days, event, NAMES, person=person),
        "theirs": lambda: CoxPHFitter().fit(frame, "days", "event"),
    }


def largest_difference(mine: Any, other: Any) -> float:
    """The largest difference of coefficients and standard errors."""
    pairs = (("value", other.params_), ("standard_error", other.standard_errors_))
    return max(
        float(np.abs(np.array([getattr(item, name) for item in mine.coefficients]) - column.to_numpy()).max())
        for name, column in pairs
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=1_000_000)
    parser.add_argument("--rounds", type=int, default=3)
    options = parser.parse_args()
    warnings.simplefilter("ignore")
    runs = contestants(options.people)
    times = interleave(runs, rounds=options.rounds, warm=0)
    apart = largest_difference(runs["ours"](), runs["theirs"]())
    ours, theirs = times["ours"].median, times["theirs"].median
    lines = [
        Line("lifelines: Efron ties", theirs, "s"),
        Line("the same", ours, "s", theirs / ours, f">= {FASTER:g} x faster", theirs / ours >= FASTER),
        Line("the same with robust errors by person", times["robust"].median, "s"),
        Line("largest difference between them", apart, "", None, f"<= {EQUAL:g}", apart <= EQUAL),
    ]
    report(f"Cox model: {options.people:,} people, four terms, whole days", lines)


if __name__ == "__main__":
    main()
