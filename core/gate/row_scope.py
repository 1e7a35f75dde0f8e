"""Whose rows the database shows: row-level security on every table that holds something of a person.

A query sees the rows of the stores that are in scope, whoever wrote it and however: a page that forgot its filter, a
raw query, an update. Nothing is in scope until something says so. Requests say it for the user whom the gate let in;
commands and the signed links say it for themselves by the context managers below.

The scope is two settings of the database session. Who can run any SQL at all can set them: this guards against our own
mistakes, not against somebody who has the database.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any

import psycopg
from django.core.exceptions import ImproperlyConfigured
from django.db import connection, models
from django.db.backends.signals import connection_created

STORES, REACH = "benchlast.stores", "benchlast.reach"


@dataclass(frozen=True, slots=True)
class Scope:
    """Stores by primary key, and how far beyond: `everything`, or `figures`: all stores, but no names."""

    stores: tuple[int, ...] = ()
    reach: str = ""


NOTHING = Scope()
FIGURES = Scope(reach="figures")
EVERYTHING = Scope(reach="everything")

_scope: ContextVar[Scope] = ContextVar("row_scope", default=NOTHING)


@dataclass(frozen=True, slots=True)
class Protected:
    """A table under row-level security: `path` leads from it to the store (`fitting__store`)."""

    model: type[models.Model]
    path: tuple[str, ...]
    names: bool


_protected: dict[str, Protected] = {}


def protect(model: type[models.Model], path: str, *, names: bool = False) -> None:
    """Put a model's table under row-level security.

    Parameters
    ----------
    path : foreign keys to the store, joined by two underscores; each step but the last leads to a protected model
    names : the table says who somebody is; it stays hidden from those who may see figures of all stores
    """
    _protected[model._meta.label_lower] = Protected(model, tuple(path.split("__")), names)


def protected() -> list[Protected]:
    """Return the protected tables, each after the one that it leads to."""
    return sorted(_protected.values(), key=lambda item: (len(item.path), item.model._meta.label_lower))


def _apply(scope: Scope) -> None:
    """Tell the database. A connection that is not open yet is told when it opens."""
    raw = connection.connection
    if raw is None or raw.closed:
        return
    raw.execute(
        "SELECT set_config(%s, %s, false), set_config(%s, %s, false)",
        [STORES, ",".join(map(str, scope.stores)), REACH, scope.reach],
    )


def _tell_new_connection(**kwargs: Any) -> None:
    if kwargs["connection"].alias == connection.alias and _scope.get() != NOTHING:
        _apply(_scope.get())


connection_created.connect(_tell_new_connection, dispatch_uid="core.row_scope")


@contextmanager
def within(scope: Scope) -> Iterator[None]:
    """See the rows of a scope inside, and what was seen before afterwards."""
    before = _scope.get()
    token = _scope.set(scope)
    try:
        if scope != before:
            _apply(scope)
        yield
    finally:
        _scope.reset(token)
        if scope != before:
            _return_to(before)


def _return_to(scope: Scope) -> None:
    """Go back to a scope. A transaction that is lost takes its settings back by itself."""
    if connection.needs_rollback:
        return
    try:
        _apply(scope)
    except psycopg.Error:
        # Better no connection than one that sees too much; the next query opens a new one.
        connection.close()


def stores(store_ids: Iterable[int]) -> Any:
    """See the rows of these stores."""
    return within(Scope(tuple(sorted(set(store_ids)))))


def figures() -> Any:
    """See the rows of all stores, but nobody's name: for outcomes, and for nothing that shows a single person."""
    return within(FIGURES)


def everything() -> Any:
    """See every row: for commands, backups and checks, never for a request of a person."""
    return within(EVERYTHING)


def enter(store_ids: Iterable[int]) -> None:
    """Put stores in scope until the request ends: those of the user whom the gate let in, or of a signed link."""
    scope = Scope(tuple(sorted(set(store_ids))))
    if _scope.get() != scope:
        _scope.set(scope)
        _apply(scope)


@contextmanager
def of_request() -> Iterator[None]:
    """Begin a request with nothing in scope and leave nothing of it behind."""
    with within(NOTHING):
        try:
            yield
        finally:
            if _scope.get() != NOTHING:
                _scope.set(NOTHING)
                _return_to(NOTHING)


def _policy(item: Protected) -> str:
    """The condition on a row, in SQL.

    The settings are read in sub-selects, so that they are read once a query and not once a row. A table that hangs on
    another follows what its user sees of that one.
    """
    quote = connection.ops.quote_name
    reach = f"(SELECT current_setting('{REACH}', true))"
    beyond = f"{reach} = 'everything'" if item.names else f"{reach} IN ('everything', 'figures')"
    link: Any = item.model._meta.get_field(item.path[0])
    column = f"{quote(item.model._meta.db_table)}.{quote(link.column)}"
    if len(item.path) == 1:
        listed = f"SELECT string_to_array(nullif(current_setting('{STORES}', true), ''), ',')::bigint[]"
        return f"{beyond} OR {column} = ANY (({listed})::bigint[])"
    parent: Any = link.related_model
    if parent._meta.label_lower not in _protected:
        raise ImproperlyConfigured(f"{item.model.__name__} hangs on {parent}, which is not protected.")
    table, key = quote(parent._meta.db_table), quote(parent._meta.pk.column)
    held = f"SELECT 1 FROM {table} AS held WHERE held.{key} = {column}"  # noqa: S608  quoted names, no values
    return f"{beyond} OR EXISTS ({held})"


def install_policies() -> None:
    """Put the protected tables under row-level security, as the owner, after every migration."""
    with connection.cursor() as cursor:
        for item in protected():
            table = connection.ops.quote_name(item.model._meta.db_table)
            cursor.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
            cursor.execute(f"DROP POLICY IF EXISTS rows_in_scope ON {table}")
            cursor.execute(f"CREATE POLICY rows_in_scope ON {table} USING ({_policy(item)})")
