"""Working through a pooler that may give every transaction another connection of the server, as pgbouncer does.

Such a pooler takes no startup options, and what one client leaves behind in the server's session another one meets. So
with `DATABASE_POOLING=transaction` nothing is left there: each statement of the application sets the role, the zone and
the scope of rows that it needs itself, in one message to the server and for its own transaction alone. Nothing is
prepared in the server, and no cursor stays open there.

References
----------
.. [1] PostgreSQL documentation, 53.2.2.1 (multiple statements in a simple query run as one transaction).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.db import NotSupportedError
from django.db.backends.signals import connection_created

from core.database import roles

Settings = dict[str, str]

# These must come first in their transaction, or work in one that has failed, and need no settings.
_CONTROL = ("SET ", "SAVEPOINT ", "RELEASE ", "ROLLBACK ")
_scopes: list[Callable[[], Settings]] = []


def is_by_transaction() -> bool:
    """Return whether two transactions may find two different connections of the server."""
    return bool(settings.DATABASE_POOLING == "transaction")


def add_settings(of_now: Callable[[], Settings]) -> None:
    """Have each statement bring more settings: names and values, neither with quotes."""
    _scopes.append(of_now)


def _settings() -> str:
    wanted = {"role": settings.APPLICATION_ROLE, "benchlast.zone": settings.TIME_ZONE}
    for of_now in _scopes:
        wanted |= of_now()
    calls = ", ".join(f"set_config('{name}', '{value}', true)" for name, value in wanted.items())
    return f"SELECT {calls}; "


def _bring_settings(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]) -> Any:
    """Run a statement behind its settings, and leave the cursor at the statement's own result."""
    if roles.is_owner() or sql.lstrip()[:10].upper().startswith(_CONTROL):
        return execute(sql, params, many, context)
    if many:
        raise NotSupportedError("executemany does not work through a pooler of transactions; send one statement.")
    answer = execute(_settings() + sql, params, many, context)
    context["cursor"].nextset()
    return answer


def _prepare_connection(*, connection: Any, **kwargs: Any) -> None:
    if is_by_transaction() and _bring_settings not in connection.execute_wrappers:
        # First, not last: a connection may open inside a block with a wrapper of its own, which takes off the last.
        connection.execute_wrappers.insert(0, _bring_settings)


connection_created.connect(_prepare_connection, dispatch_uid="core.database.pooling")
