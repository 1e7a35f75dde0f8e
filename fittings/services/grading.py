"""Grades for feet that were entered in degrees."""

from __future__ import annotations

from dataclasses import replace

from core.domain.errors import DomainError
from fittings.domain.fitting.grading import MEASURED, GradeCutoffs, grade_of
from fittings.domain.fitting.intake import FittingIntake, FootIntake
from fittings.domain.fitting.need import GRADE_WORDS
from fittings.selectors.cutoffs import CurrentCutoffs, current_cutoffs


def is_measured(foot: FootIntake) -> bool:
    return any(getattr(foot, f"{name}_deg") is not None for name in MEASURED)


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
    problems: dict[str, list[str]] = {}
    left = graded_foot(intake.left, cutoffs.cutoffs, "observation.left", problems)
    right = graded_foot(intake.right, cutoffs.cutoffs, "observation.right", problems)
    if problems:
        raise DomainError("; ".join(words for messages in problems.values() for words in messages), fields=problems)
    return replace(intake, left=left, right=right)


def graded_foot(foot: FootIntake, cutoffs: GradeCutoffs, where: str, problems: dict[str, list[str]]) -> FootIntake:
    """The foot with its grades; what contradicts is added to the problems and stays as it was given."""
    grades: dict[str, int] = {}
    for name in MEASURED:
        degrees, given = getattr(foot, f"{name}_deg"), getattr(foot, name)
        if degrees is None:
            continue
        grade = grade_of(name, degrees, cutoffs)
        if given is not None and given != grade:
            problems[f"{where}.{name}_deg"] = [contradiction(degrees, grade, cutoffs)]
            continue
        grades[name] = grade
    return replace(foot, **grades)


def contradiction(degrees: float, grade: int, cutoffs: GradeCutoffs) -> str:
    return (
        f"{degrees:g}° is grade {grade} ({GRADE_WORDS[grade]}) by the cut-offs {cutoffs.name}, and another grade was "
        "picked. Clear one of the two."
    )
