"""Whether an actor may do what a service does, where an action depends on the role alone and not on a store."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from core.domain.errors import DomainError
from core.gate.access import allowed, check_known

P = ParamSpec("P")
R = TypeVar("R")


class NotAllowed(DomainError):
    """The actor's roles do not hold the action."""

    def __init__(self) -> None:
        super().__init__("Your role does not allow this.", code="permission_denied", status=403)


def needs(action: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Let a service run only for an actor who holds an action; None is the system itself.

    Raises
    ------
    DomainError
        403, by the service, before it reads or writes anything.
    """
    check_known(action)

    def guarded(service: Callable[P, R]) -> Callable[P, R]:
        @wraps(service)
        def checked(*args: P.args, **kwargs: P.kwargs) -> R:
            actor = kwargs["actor"]
            if actor is not None and not allowed(actor, action):
                raise NotAllowed
            return service(*args, **kwargs)

        checked.needs = action  # type: ignore[attr-defined]
        return checked

    return guarded
