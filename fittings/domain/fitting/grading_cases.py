"""Drawn cases of known angle, for fitters who learn to grade: which are drawn, and how the answers score.

The standard is the practice's own: the cut-offs in use. A drawing is easier than a foot, so a good score shows that
somebody knows the grades, not how well they see them in people.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fittings.domain.fitting.grading import MEASURED, GradeCutoffs, grade_of
from fittings.domain.fitting.need import GRADE_WORDS
from fittings.domain.outcomes.agreement import Kappa, weighted_kappa

GRADES = len(GRADE_WORDS)
PER_SIGN = 5
"""Cases of each sign: every grade once, and one of them twice, so that the last cannot be guessed from what is left."""

CLEAR_DEG = 1.0
"""How far a drawn angle is from the nearest cut-off at least, where the grade is wide enough; common practice."""

BELOW_DEG, ABOVE_DEG = 5.0, 7.0
"""How far the drawn angles reach below the first cut-off and above the last."""


@dataclass(frozen=True, slots=True)
class Case:
    """One drawn case: the sign that is asked for, the foot, and the angle that is drawn."""

    sign: str
    foot: str
    degrees: float


@dataclass(frozen=True, slots=True)
class CaseScore:
    """How a set was answered; `standard` are the right grades. `kappa` is against the standard, weighted by squares."""

    standard: tuple[int, ...]
    cases: int
    right: int
    near: int
    kappa: Kappa


def cases_drawn(generator: np.random.Generator, cutoffs: GradeCutoffs) -> tuple[Case, ...]:
    """A set of cases.

    Parameters
    ----------
    generator : numpy.random.Generator
        The same state gives the same set.
    cutoffs : GradeCutoffs
        Where the grades begin, in degrees.

    Returns
    -------
    tuple of Case
        `PER_SIGN` for each sign, sign after sign; every grade is there at least once for each sign.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> from fittings.domain.fitting.grading import G1
    >>> len(cases_drawn(np.random.default_rng(1), G1))
    15
    """
    cases = []
    for sign in MEASURED:
        grades = [*range(GRADES), *generator.integers(GRADES, size=PER_SIGN - GRADES).tolist()]
        for grade in generator.permutation(grades):
            foot = ("left", "right")[int(generator.integers(2))]
            cases.append(Case(sign, foot, _angle(generator, sign, int(grade), cutoffs)))
    return tuple(cases)


def _angle(generator: np.random.Generator, sign: str, grade: int, cutoffs: GradeCutoffs) -> float:
    begins = getattr(cutoffs, sign)
    edges = (begins[0] - BELOW_DEG, *begins, begins[2] + ABOVE_DEG)
    low, high = edges[grade], edges[grade + 1]
    clear = min(CLEAR_DEG, (high - low) / 3)
    return round(float(generator.uniform(low + clear, high - clear)), 1)


def case_score(cases: Sequence[Case], answers: Sequence[int], cutoffs: GradeCutoffs) -> CaseScore:
    """Score the answers to a set by the cut-offs.

    Parameters
    ----------
    cases : sequence of Case
        The set.
    answers : sequence of int
        A grade 0 to 3 for each case, in the same order.
    cutoffs : GradeCutoffs
        Where the grades begin.

    Returns
    -------
    CaseScore
        Right answers, answers that are one grade off, and kappa.

    Raises
    ------
    ValueError
        When there is not one grade 0 to 3 for each case.

    Examples
    --------
    >>> from fittings.domain.fitting.grading import G1
    >>> score = case_score([Case("pronation", "left", 8.0), Case("pronation", "left", 12.0)], [1, 1], G1)
    >>> score.standard, score.right, score.near
    ((1, 2), 1, 1)
    """
    if len(answers) != len(cases) or not cases:
        raise ValueError(f"answers must be one for each of {len(cases)} cases, got {len(answers)}")
    if any(answer not in range(GRADES) for answer in answers):
        raise ValueError(f"answers must be grades 0 to {GRADES - 1}, got {list(answers)!r}")
    standard = tuple(grade_of(case.sign, case.degrees, cutoffs) for case in cases)
    table = np.zeros((GRADES, GRADES), dtype=np.int64)
    np.add.at(table, (list(standard), list(answers)), 1)
    apart = np.abs(np.subtract(standard, answers))
    return CaseScore(
        standard, len(cases), int((apart == 0).sum()), int((apart == 1).sum()), weighted_kappa(table, "quadratic")
    )
