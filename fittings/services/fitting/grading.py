"""Grades for feet that were entered in degrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from core.domain.errors import DomainError
from fittings.domain.fitting.grading import graded_foot, is_measured
from fittings.domain.fitting.intake import FittingIntake, Look
from fittings.selectors.fitting.cutoffs import CurrentCutoffs, current_cutoffs


def cutoffs_for(intake: FittingIntake) -> CurrentCutoffs | None:
    """The cut-offs in use, where anything was entered in degrees; else nothing is asked of the database."""
    feet = [intake.left, intake.right, *(foot for look in intake.looks for _, foot in look.feet())]
    return current_cutoffs() if any(map(is_measured, feet)) else None


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
    looks = graded_looks(intake.looks, cutoffs)
    return replace(intake, left=feet["left"].foot, right=feet["right"].foot, looks=looks)


def graded_looks(looks: Sequence[Look], cutoffs: CurrentCutoffs | None) -> tuple[Look, ...]:
    """The looks with a grade for everything that was entered in degrees; raises as `graded` does."""
    if cutoffs is None:
        return tuple(looks)
    made: list[Look] = []
    problems: dict[str, list[str]] = {}
    for index, look in enumerate(looks):
        feet = {side: graded_foot(foot, cutoffs.cutoffs) for side, foot in look.feet()}
        made.append(replace(look, left=feet["left"].foot, right=feet["right"].foot))
        for side, foot in feet.items():
            problems |= {f"looks.{index}.{side}.{name}": [words] for name, words in foot.problems.items()}
    if problems:
        raise DomainError("; ".join(words for messages in problems.values() for words in messages), fields=problems)
    return tuple(made)
