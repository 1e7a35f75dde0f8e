"""Grades for feet that were entered in degrees."""

from __future__ import annotations

from dataclasses import replace

from core.domain.errors import DomainError
from fittings.domain.fitting.grading import graded_foot, is_measured
from fittings.domain.fitting.intake import FittingIntake
from fittings.selectors.cutoffs import CurrentCutoffs, current_cutoffs


def cutoffs_for(intake: FittingIntake) -> CurrentCutoffs | None:
    """The cut-offs in use, where anything was entered in degrees; else nothing is asked of the database."""
    return current_cutoffs() if is_measured(intake.left) or is_measured(intake.right) else None


def graded(intake: FittingIntake, cutoffs: CurrentCutoffs | None) -> FittingIntake:
    """The intake with a grade for everything that was entered in degrees.

    Raises
    ------
    DomainError
        400 naming the field where a grade was given too and says something else.
    """
    if cutoffs is None:
        return intake
    feet = {side: graded_foot(foot, cutoffs.cutoffs) for side, foot in (("left", intake.left), ("right", intake.right))}
    problems = {
        f"observation.{side}.{name}": [words] for side, foot in feet.items() for name, words in foot.problems.items()
    }
    if problems:
        raise DomainError("; ".join(words for messages in problems.values() for words in messages), fields=problems)
    return replace(intake, left=feet["left"].foot, right=feet["right"].foot)
