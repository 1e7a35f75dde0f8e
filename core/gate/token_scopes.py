"""What an API token may be used for, within the roles of its account."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import models

READING = frozenset({"GET", "HEAD", "OPTIONS"})

_uploading: set[str] = set()


class TokenScope(models.TextChoices):
    """The scope of an API token; a session has the full one."""

    FULL = "full", "everything that the roles allow"
    READ = "read", "reading only"
    UPLOAD = "upload", "uploading bench files only"


def register_uploading(actions: Iterable[str]) -> None:
    """Add the actions of an app that a token for uploading may perform; it may do nothing else, not even read."""
    _uploading.update(actions)


def within_scope(scope: str, action: str, method: str) -> bool:
    """Return whether a token of this scope may be used for an action by a method.

    Examples
    --------
    >>> within_scope("read", "labtests.upload:create", "POST"), within_scope("full", "labtests.upload:create", "POST")
    (False, True)
    """
    match scope:
        case TokenScope.FULL:
            return True
        case TokenScope.READ:
            return method in READING
        case TokenScope.UPLOAD:
            return action in _uploading and method not in READING
    return False
