"""Databases of a test's own: copies of the migrated, empty one, for what no transaction of a test could undo."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from threading import Barrier
from typing import Any
from urllib.parse import quote

import psycopg
from psycopg import sql

# Migrated and empty. Nobody connects to it, because only such a database can be copied.
PRISTINE = "test_benchlast_pristine"
PASSWORD = "a-password-of-the-test"
GIVE_EVERYTHING = """
DO $$ DECLARE one record; BEGIN
    FOR one IN SELECT oid::regclass AS name FROM pg_class
            WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'v') LOOP
        EXECUTE format('ALTER TABLE %s OWNER TO {user}', one.name);
    END LOOP;
    FOR one IN SELECT oid::regprocedure AS name FROM pg_proc WHERE pronamespace = 'public'::regnamespace
            AND NOT EXISTS (SELECT FROM pg_depend WHERE objid = pg_proc.oid AND deptype = 'e') LOOP
        EXECUTE format('ALTER ROUTINE %s OWNER TO {user}', one.name);
    END LOOP;
END $$
"""


def make_pristine(*, keep: bool) -> None:
    """Migrate an empty database for all tests, as its owner; it stays until the next run makes it again.

    Parameters
    ----------
    keep : bring the one of an earlier run up to date instead
    """
    from django.db import connection

    connection.settings_dict["TEST"]["NAME"] = PRISTINE
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False, keepdb=keep)
    connection.close()


def server() -> dict[str, str]:
    from django.db import connection

    given: Mapping[str, Any] = connection.get_connection_params()
    return {key: str(given[key]) for key in ("host", "port", "user", "password") if given.get(key)}


def run_on_server(statement: str, *names: str) -> None:
    info = psycopg.conninfo.make_conninfo(**server(), dbname="postgres")
    with psycopg.connect(info, autocommit=True) as connection:
        connection.execute(sql.SQL(statement).format(*map(sql.Identifier, names)))


def copy_database(name: str, copy: str) -> None:
    """Copy a database that no connection is open to; an older copy of that name goes."""
    from django.db import connection

    connection.close()
    drop_database(copy)
    run_on_server("CREATE DATABASE {} TEMPLATE {}", copy, name)
    # As `grant_application_role` does: rights to a database as a whole are not copied.
    run_on_server("REVOKE TEMPORARY ON DATABASE {} FROM PUBLIC", copy)


def drop_database(name: str) -> None:
    run_on_server("DROP DATABASE IF EXISTS {} WITH (FORCE)", name)


@contextmanager
def own_database() -> Iterator[str]:
    """Give the URL of a migrated, empty database, as its owner; it is dropped afterwards."""

    name = f"test_benchlast_{uuid.uuid4().hex[:12]}"
    copy_database(PRISTINE, name)
    try:
        yield url_of(server(), name)
    finally:
        drop_database(name)


@contextmanager
def plain_owner(*, creates_roles: bool = False) -> Iterator[tuple[str, str]]:
    """Yield the name of a database user without rights on the server, and the URL of its own empty database."""
    user = f"plain_{uuid.uuid4().hex[:8]}"
    run_on_server(f"CREATE ROLE {{}} LOGIN PASSWORD '{PASSWORD}' {'CREATEROLE' if creates_roles else ''}", user)
    run_on_server("CREATE DATABASE {} OWNER {}", user, user)
    try:
        yield user, url_of({**server(), "user": user, "password": PASSWORD}, user)
    finally:
        run_on_server("DROP DATABASE {} WITH (FORCE)", user)
        run_on_server("DROP OWNED BY {}", user)
        run_on_server("DROP ROLE {}", user)


@contextmanager
def practice_of_plain_owner() -> Iterator[str]:
    """Give the URL of a migrated, empty database, as an owner who has no rights on the server but those."""
    with plain_owner() as (user, url):
        copy_database(PRISTINE, user)
        run_on_server("ALTER DATABASE {} OWNER TO {}", user, user)
        run_on_server("GRANT benchlast_app TO {} WITH SET TRUE", user)
        with psycopg.connect(url_of(server(), user)) as opened:
            opened.execute(GIVE_EVERYTHING.format(user=user))
        yield url


def url_of(server: Mapping[str, str], name: str) -> str:
    user = quote(server.get("user", ""))
    password = f":{quote(server['password'])}" if server.get("password") else ""
    port = f":{server['port']}" if server.get("port") else ""
    return f"postgresql://{user}{password}@{quote(server.get('host', ''), safe='')}{port}/{name}"


def committed_database(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """A copy of the test database in which things are committed, since two connections see only those; it goes after.

    For a module's fixture `db`: `db = pytest.fixture(committed_database)`.
    """
    from django.db import connection

    name = str(connection.settings_dict["NAME"])
    own = f"{name}_at_once"
    with django_db_blocker.unblock():
        copy_database(PRISTINE, own)
        connection.settings_dict["NAME"] = own
        try:
            yield
        finally:
            connection.close()
            connection.settings_dict["NAME"] = name
            drop_database(own)


def at_once(act: Callable[[Any], Any], *given: Any) -> list[Any]:
    """Do the same from several connections, all let go at the same moment; tell what each was told."""
    from django.db import connection

    from core.domain.errors import DomainError

    ready = Barrier(len(given))

    def one(argument: Any) -> Any:
        try:
            ready.wait(timeout=20)
            return act(argument)
        except DomainError as problem:
            return problem.code
        finally:
            connection.close()

    with ThreadPoolExecutor(len(given)) as pool:
        return sorted(pool.map(one, given))
