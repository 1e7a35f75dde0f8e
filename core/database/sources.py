"""Where a request reads from: the primary, or for visitors' reads of the catalogue a replica.

One source a request: rows of one database beside the revision of another would be shown as what they are not. Who is
signed in reads from the primary always, and so sees their own changes at once. Writing is the primary's alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, TypeVar

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, InterfaceError, OperationalError, connections
from django.db.models import Model

from core.database.replicas import watch

ResultT = TypeVar("ResultT")
_ON_REQUEST = "reads_from"
_source: ContextVar[str] = ContextVar("reads_from", default=DEFAULT_DB_ALIAS)


class SourceRouter:
    """Reads from the source of the request, writes and migrations in the primary."""

    def db_for_read(self, model: type[Model], **hints: Any) -> str:
        return _source.get()

    def db_for_write(self, model: type[Model], **hints: Any) -> str:
        return DEFAULT_DB_ALIAS

    def allow_relation(self, first: Model, second: Model, **hints: Any) -> bool:
        return True

    def allow_migrate(self, db: str, app_label: str, **hints: Any) -> bool:
        return db == DEFAULT_DB_ALIAS


def read_connection() -> Any:
    """Return Django's connection to the source, for SQL of our own."""
    return connections[_source.get()]


@contextmanager
def reading_from(name: str) -> Iterator[None]:
    """Read from this database inside the block."""
    token = _source.set(name)
    try:
        yield
    finally:
        _source.reset(token)


def source_of(request: Any) -> str:
    """Return the source that a request reads from, chosen at the first question."""
    if not hasattr(request, _ON_REQUEST):
        setattr(request, _ON_REQUEST, next(iter(_sources(request)), DEFAULT_DB_ALIAS))
    chosen: str = getattr(request, _ON_REQUEST)
    return chosen


def forget_source(request: Any, problem: Exception) -> None:
    """Choose another source for a request whose source failed."""
    if source_of(request) != DEFAULT_DB_ALIAS:
        watch().leave_out(source_of(request), str(problem).partition("\n")[0])
    delattr(request, _ON_REQUEST)


def answer_from_source(request: Any, call: Callable[[], ResultT], *, again: Callable[[], None]) -> ResultT:
    """Return what `call` reads from the source of the request, from the next one where the first can't be reached.

    Parameters
    ----------
    again : callable
        Forgets what the request has read already; called before each further try.

    Raises
    ------
    OperationalError, InterfaceError
        Where no source can be reached.
    """
    for _ in settings.REPLICAS:
        if source_of(request) == DEFAULT_DB_ALIAS:
            break
        try:
            with reading_from(source_of(request)):
                return call()
        except (OperationalError, InterfaceError) as problem:
            forget_source(request, problem)
            again()
    return call()


def _sources(request: Any) -> list[str]:
    if not settings.REPLICAS or not _is_visitor(request):
        return []
    watch().start()
    return watch().usable()


def _is_visitor(request: Any) -> bool:
    """Whether nobody is signed in: neither a session nor a token comes with the request."""
    return (
        request.method in ("GET", "HEAD")
        and settings.SESSION_COOKIE_NAME not in request.COOKIES
        and "HTTP_AUTHORIZATION" not in request.META
    )
