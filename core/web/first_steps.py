"""What a new practice needs before its first fitting, and what of it is done.

Each app registers its steps (`<app>/selectors/first_steps.py`, imported when the app starts)::

    from core.web import first_steps

    first_steps.register(
        first_steps.Step(30, "A shoe", "Add its brand first.", "catalogue:shoe-new", "catalogue.shoe:write", is_done)
    )
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import BooleanField, Exists, ExpressionWrapper, Q

from core.gate import row_scope
from core.gate.access import Role, allowed, registered
from core.models import User

ACTION = "core.first_steps:view"


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do: in which order, on which page, by whoever has the action.

    `is_done` returns a condition for the database, so that all steps are checked by one query.
    """

    order: int
    title: str
    text: str
    url_name: str
    action: str
    is_done: Callable[[], Exists | Q]


@dataclass(frozen=True, slots=True)
class StepState:
    """A step as the reader sees it: `roles` may do it, and `may` says whether the reader has one of them."""

    step: Step
    is_done: bool
    is_next: bool
    may: bool
    roles: tuple[str, ...]


_steps: dict[str, Step] = {}


def register(*steps: Step) -> None:
    """Add steps; a second one of the same title replaces the first."""
    _steps.update({step.title: step for step in steps})


def steps_for(reader: User) -> list[StepState]:
    """Return every step in order, with what is done: one query.

    Whether there is a fitting is asked of all stores; nothing about a person is read.
    """
    steps = sorted(_steps.values(), key=lambda step: step.order)
    conditions = [ExpressionWrapper(step.is_done(), output_field=BooleanField()) for step in steps]
    with row_scope.figures():
        done = User.objects.filter(pk=reader.pk).values_list(*conditions).get()
    missing = [step for step, is_done in zip(steps, done, strict=True) if not is_done]
    return [
        StepState(step, is_done, step in missing[:1], allowed(reader, step.action), _roles(step.action))
        for step, is_done in zip(steps, done, strict=True)
    ]


def steps_missing(reader: Any) -> int:
    """Return how many steps are missing, for readers who see them; 0 for everybody else."""
    if reader is None or not allowed(reader, ACTION):
        return 0
    return sum(not state.is_done for state in steps_for(reader))


def _roles(action: str) -> tuple[str, ...]:
    return tuple(str(role.label) for role in Role if role in registered()[action])
