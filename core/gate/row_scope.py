"""Row-level security: the database shows the rows about people only for the stores that are in scope.

This covers every query, also one that forgot its filter, raw SQL and updates. Nothing is in scope by default. For a
request the gate puts the user's stores in scope; commands and signed links use the context managers below.

The policies bind the owner of the tables as well; the sessions of `core.database.roles.as_owner` have every row in
scope, whatever is opened here. The scope is two settings of the database session, which anybody who can run SQL can
set. It protects against our own mistakes, not against somebody with access to the database.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any

import psycopg
from django.core.exceptions import ImproperlyConfigured
from django.db import connection, models, transaction
from django.db.backends.signals import connection_created

from core.database import pooling, roles

STORES, REACH = "benchlast.stores", "benchlast.reach"


@dataclass(frozen=True, slots=True)
class Scope:
    """Stores by primary key, and a wider reach: `everything`, or `figures` (all stores, but no names)."""

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
    names : the table identifies people, so it is not visible in the scope `figures`
    """
    _protected[model._meta.label_lower] = Protected(model, tuple(path.split("__")), names)


def protected() -> list[Protected]:
    """Return the protected tables, each after the table that its path starts with."""
    return sorted(_protected.values(), key=lambda item: (len(item.path), item.model._meta.label_lower))


def _apply(scope: Scope) -> None:
    """Set the scope in the database session; a connection that is not open yet gets it when it opens.

    Behind a pooler that gives each transaction another session, the statements bring the scope along instead. The
    owner's sessions keep the scope that they started with.
    """
    if pooling.is_by_transaction() or roles.is_owner():
        return
    raw = connection.connection
    if raw is None or raw.closed:
        return
    try:
        raw.execute(
            "SELECT set_config(%s, %s, false), set_config(%s, %s, false)",
            [part for setting in _settings(scope).items() for part in setting],
        )
    except psycopg.OperationalError:
        # The server went away. The next query opens a connection, which gets the scope then.
        connection.close()


def _apply_to_new_connection(**kwargs: Any) -> None:
    if kwargs["connection"].alias == connection.alias and _scope.get() != NOTHING:
        _apply(_scope.get())


connection_created.connect(_apply_to_new_connection, dispatch_uid="core.row_scope")


def _settings(scope: Scope) -> dict[str, str]:
    return {STORES: ",".join(map(str, scope.stores)), REACH: scope.reach}


pooling.add_settings(lambda: _settings(_scope.get()))


@contextmanager
def within(scope: Scope) -> Iterator[None]:
    """Apply a scope inside the block and restore the previous one afterwards."""
    before = _scope.get()
    token = _scope.set(scope)
    try:
        if scope != before:
            _apply(scope)
        yield
    finally:
        _scope.reset(token)
        if scope != before:
            _restore(before)


def _restore(scope: Scope) -> None:
    """Restore a scope. A failed transaction rolls its settings back by itself."""
    if connection.needs_rollback:
        return
    try:
        _apply(scope)
    except psycopg.Error:
        # A closed connection is safer than one with too wide a scope; the next query opens a new one.
        connection.close()


def stores(store_ids: Iterable[int]) -> Any:
    """Show the rows of these stores."""
    return within(Scope(tuple(sorted(set(store_ids)))))


def figures() -> Any:
    """Show the rows of all stores without names, to read alone: for outcomes, never for a page about one person."""
    return within(FIGURES)


def everything() -> Any:
    """Show every row: for commands, backups and checks, never for a request."""
    return within(EVERYTHING)


def enter(store_ids: Iterable[int]) -> None:
    """Put stores in scope until the request ends: the user's stores, or the store of a signed link."""
    scope = Scope(tuple(sorted(set(store_ids))))
    if _scope.get() != scope:
        _scope.set(scope)
        _apply(scope)


def _set_once() -> Callable[..., Any]:
    """Return a wrapper of queries that sets the scope before the first one.

    What is in scope of a connection is not taken from memory: whoever used it before may have set it behind our back.
    Pages that ask this server nothing do not wait for it.
    """
    is_set = False

    def run(execute: Callable[..., Any], *query: Any) -> Any:
        nonlocal is_set
        if not is_set:
            is_set = True
            _restore(_scope.get())
        return execute(*query)

    return run


@contextmanager
def of_request() -> Iterator[None]:
    """Start a request with nothing in scope, whatever the connection says, and clear the scope when it ends."""
    with within(NOTHING), connection.execute_wrapper(_set_once()):
        try:
            yield
        finally:
            if _scope.get() != NOTHING:
                _scope.set(NOTHING)
                _restore(NOTHING)


def _policy(item: Protected) -> str:
    """Return the condition on a row, in SQL.

    Sub-selects read the settings once per query instead of once per row. A table that reaches its store through
    another table is visible where that table's row is.
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
        raise ImproperlyConfigured(f"{item.model.__name__} depends on {parent}, which is not protected.")
    table, key = quote(parent._meta.db_table), quote(parent._meta.pk.column)
    visible = f"SELECT 1 FROM {table} AS parent WHERE parent.{key} = {column}"  # noqa: S608  quoted names, no values
    return f"{beyond} OR EXISTS ({visible})"


# Figures of all stores are for reading alone.
_FIGURES_ARE_READ_ONLY = f"(SELECT current_setting('{REACH}', true)) IS DISTINCT FROM 'figures'"  # noqa: S608  no values

_INSTALLED = """
SELECT relname, max(CASE WHEN polname = 'rows_in_scope' THEN obj_description(pg_policy.oid, 'pg_policy') END),
       md5(string_agg(concat_ws(' ', polname, polcmd, polpermissive, pg_get_expr(polqual, polrelid),
                                pg_get_expr(polwithcheck, polrelid)), ';' ORDER BY polname))
FROM pg_policy JOIN pg_class ON pg_class.oid = polrelid
WHERE relrowsecurity AND relforcerowsecurity AND relnamespace = 'public'::regnamespace
GROUP BY relname
"""


def install_policies() -> None:
    """Put the protected tables under row-level security, as the owner, after every migration.

    A table whose policies have not changed is left alone: replacing one locks out everybody who reads the table. The
    first carries a mark as its comment, of the conditions here and of what the server made of them.
    """
    there = _marks()
    for item in protected():
        condition = _policy(item)
        before, now = there.get(item.model._meta.db_table, ("", ""))
        if before != _mark(condition, now):
            _install(item.model._meta.db_table, condition)


def _marks() -> dict[str, tuple[str, str]]:
    """Return for each table with policies the mark that was left, and the hash of what the server has now."""
    with connection.cursor() as cursor:
        cursor.execute(_INSTALLED)
        return {table: (comment or "", digest) for table, comment, digest in cursor.fetchall()}


def _mark(condition: str, digest: str) -> str:
    text = f"{condition} {_FIGURES_ARE_READ_ONLY}"
    return f"{hashlib.sha256(text.encode()).hexdigest()} {digest}"


@transaction.atomic
def _install(name: str, condition: str) -> None:
    """Replace a table's policies in one transaction, so that nobody reads the table without them."""
    table = connection.ops.quote_name(name)
    with connection.cursor() as cursor:
        # Forced, so that they bind the owner as well. PostgreSQL checks foreign keys past them.
        cursor.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY")
        cursor.execute(f"DROP POLICY IF EXISTS rows_in_scope ON {table}")
        cursor.execute(f"CREATE POLICY rows_in_scope ON {table} USING ({condition})")
        for verb, clause in (("INSERT", "WITH CHECK"), ("UPDATE", "USING"), ("DELETE", "USING")):
            cursor.execute(f"DROP POLICY IF EXISTS figures_no_{verb.lower()} ON {table}")
            cursor.execute(
                f"CREATE POLICY figures_no_{verb.lower()} ON {table} AS RESTRICTIVE FOR {verb} "
                f"{clause} ({_FIGURES_ARE_READ_ONLY})"
            )
        _, digest = _marks()[name]
        cursor.execute(f"COMMENT ON POLICY rows_in_scope ON {table} IS '{_mark(condition, digest)}'")
