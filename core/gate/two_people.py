"""What takes two people: each app lists its rules, and one function decides.

A rule is about an act on a record, not about a role: whoever has a part in the record may not do the act, whatever
their roles. docs/two-person-rules.md has the table, which a test compares with what is registered here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Protocol

from django.core.exceptions import ImproperlyConfigured

from core.domain.errors import DomainError


class HasKey(Protocol):
    """An account, which is a model above this folder."""

    pk: Any


@dataclass(frozen=True, slots=True)
class TwoPersonRule:
    """An act that somebody with a part in the record may not do.

    `name` is the act as `app.noun:verb`, `act` and `not_by` are its words for the table, `code` that of the refusal.
    """

    name: str
    act: str
    not_by: str
    code: str


RULES: dict[str, TwoPersonRule] = {}
"""Every registered rule by its name."""


def register_rules(rules: Iterable[TwoPersonRule]) -> None:
    """Add an app's rules."""
    for rule in rules:
        if RULES.get(rule.name, rule) != rule:
            raise ImproperlyConfigured(f"The two-person rule {rule.name!r} is registered twice and differs.")
        RULES[rule.name] = rule


def need_another(name: str, actor: HasKey | None, *, involved: Iterable[int | None], message: str) -> None:
    """Refuse an act to somebody who has a part in the record; None is the system itself.

    Parameters
    ----------
    name : of the rule
    involved : keys of the accounts with a part in the record; None is nobody
    message : what the refused person is shown

    Raises
    ------
    DomainError
        403 with the rule's code.
    """
    rule = RULES[name]
    if actor is not None and actor.pk in set(involved):
        raise DomainError(message, code=rule.code, status=403)
