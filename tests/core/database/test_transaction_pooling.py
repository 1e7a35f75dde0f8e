"""Several clients share one connection of the server through pgbouncer, and each sees the rows of its own store."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
import uuid
from concurrent.futures import ThreadPoolExecutor
from itertools import cycle, islice
from pathlib import Path
from threading import Barrier
from types import SimpleNamespace

import psycopg
import pytest
from django.db import connection, transaction
from django.test import Client
from django.utils import timezone

import config.settings as of_project
from core.database import pooling
from core.database.replicas import ReplicaWatch
from core.database.roles import WrongRoleError, require_owner
from core.domain.errors import DomainError
from core.gate import row_scope
from core.operations.readiness import readiness
from fittings.models import Customer
from tests.clusters import as_server_user, server_folder
from tests.databases import committed_database, run_on_server, server, url_of
from tests.people import make_cast

POOLER = shutil.which("pgbouncer", path=f"{os.environ['PATH']}:/usr/sbin")
LOGIN = f"pooled_{uuid.uuid4().hex[:8]}"
READS = 500
WAIT_S = 15.0

db = pytest.fixture(committed_database)


@pytest.fixture
def people(db):
    """Two stores with their staff and two customers each."""
    cast = make_cast()
    stores = (cast.store_a, cast.store_a, cast.store_b, cast.store_b)
    Customer.objects.bulk_create(
        Customer(store=store, name=f"Customer of {store.name}", created_at=timezone.now()) for store in stores
    )
    return cast


@pytest.fixture
def pooler(db):
    """The address of pgbouncer with one connection of the server, for a login that is a member of the role alone."""
    if POOLER is None:
        pytest.skip("pgbouncer is not installed")
    run_on_server("CREATE ROLE {} LOGIN IN ROLE benchlast_app", LOGIN)
    with server_folder() as place:
        (place / "users").write_text(f'"{LOGIN}" ""\n"postgres" ""\n')
        (place / "pgbouncer.ini").write_text(
            f"[databases]\n* = host={server()['host']}\n"
            f"[pgbouncer]\npool_mode = transaction\ndefault_pool_size = 1\nauth_type = trust\n"
            f"auth_file = {place}/users\nunix_socket_dir = {place}\nlisten_port = 6432\n"
        )
        with subprocess.Popen(
            [POOLER, "--quiet", f"{place}/pgbouncer.ini"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            **as_server_user(),
        ) as process:
            _wait_for(place / ".s.PGSQL.6432")
            try:
                yield {"host": str(place), "port": "6432"}
            finally:
                connection.close()
                process.terminate()
    run_on_server("DROP ROLE {}", LOGIN)


def _wait_for(path: Path) -> None:
    until = time.monotonic() + WAIT_S
    while not path.exists():
        assert time.monotonic() < until, "pgbouncer did not start"
        time.sleep(0.05)


@pytest.fixture
def pooled(people, pooler, settings, monkeypatch):
    """The application's database through the pooler; a function changes the login."""
    monkeypatch.setattr(of_project, "DATABASE_POOLING", "transaction")
    settings.DATABASE_POOLING = "transaction"
    current = connection.settings_dict
    before = dict(current)

    def log_in(user):
        connection.close()
        current.update(of_project._database("DATABASE_URL", url_of({**pooler, "user": user}, before["NAME"])))

    log_in(LOGIN)
    yield SimpleNamespace(people=people, log_in=log_in, address=pooler)
    connection.close()
    connection.execute_wrappers.clear()
    current.update(before)
    current.pop("DISABLE_SERVER_SIDE_CURSORS")


def in_threads(*acts):
    """Run functions at the same moment, each in a thread with a connection of its own, and return their answers."""
    ready = Barrier(len(acts))

    def one(act):
        try:
            ready.wait(timeout=WAIT_S)
            return act()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as pool:
        return list(pool.map(one, acts))


def stores_seen(scope):
    """Return which stores' customers are seen in a scope, by reads of three kinds in turn."""

    def plain():
        return frozenset(Customer.objects.values_list("store_id", flat=True))

    def by_blocks():
        return frozenset(customer.store_id for customer in Customer.objects.iterator(chunk_size=1))

    def after_a_failure():
        with transaction.atomic():
            with row_scope.everything():
                assert len(plain()) == 2
            try:
                with transaction.atomic(), row_scope.figures():
                    assert not plain()
                    raise DomainError("undone")
            except DomainError:
                return plain()

    def read():
        with row_scope.within(scope):
            return {kind() for kind in islice(cycle((plain, by_blocks, after_a_failure)), READS)}

    return read


def test_each_client_sees_the_rows_of_its_own_scope(pooled):
    a, b = pooled.people.store_a.pk, pooled.people.store_b.pk
    scopes = (row_scope.Scope((a,)), row_scope.Scope((b,)), row_scope.NOTHING)
    assert in_threads(*map(stores_seen, scopes)) == [{frozenset({a})}, {frozenset({b})}, {frozenset()}]
    # And nothing of theirs has stayed in the server's session.
    with psycopg.connect(url_of({**pooled.address, "user": LOGIN}, connection.settings_dict["NAME"])) as opened:
        left = opened.execute("SELECT current_user::text, coalesce(current_setting('benchlast.stores', true), '')")
        assert left.fetchone() == (LOGIN, "")


def test_pages_show_each_fitter_the_customers_of_their_store(pooled):
    people = pooled.people

    def pages_for(user):
        def ask():
            client = Client()
            client.force_login(user)
            answers = [client.get("/fittings/customers/") for _ in range(10)]
            return {answer.status_code for answer in answers}, {
                name for answer in answers for name in ("Store A", "Store B") if f"Customer of {name}" in answer.text
            }

        return ask

    def visit():
        return {Client().get(address).status_code for address in 10 * ("/", "/stores/", "/api/catalogue/shoes/")}

    seen = in_threads(pages_for(people.fitter_a), pages_for(people.fitter_b), visit)
    assert seen == [({200}, {"Store A"}), ({200}, {"Store B"}), {200}]


def test_every_statement_has_the_role_and_the_zone_and_the_watch_goes_on(pooled, settings):
    settings.TIME_ZONE = "Europe/Athens"
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_user::text, current_setting('benchlast.zone'), %s", ["bound"])
        assert cursor.fetchall() == [("benchlast_app", "Europe/Athens", "bound")]
    assert readiness().is_ready
    watch = ReplicaWatch([])
    for _ in range(8):
        watch.look()
        assert not watch.is_primary_away
    for opened in watch._open.values():
        opened.close()


def test_login_that_sees_every_row_is_refused(pooled):
    pooled.log_in("postgres")
    with pytest.raises(WrongRoleError, match="postgres owns the tables"):
        Customer.objects.count()


def test_connection_opened_inside_a_request_serves_the_next_one(pooled):
    store = pooled.people.store_a
    # As in a thread that has not had a connection yet.
    connection.close()
    connection.execute_wrappers.clear()
    for _ in range(2):
        with row_scope.of_request():
            row_scope.enter([store.pk])
            assert set(Customer.objects.values_list("store", flat=True)) == {store.pk}


def test_owner_needs_an_address_past_the_pooler(settings):
    settings.DATABASE_POOLING = "transaction"
    settings.OWNER_DATABASE = {}
    assert pooling.is_by_transaction()
    with pytest.raises(DomainError, match="MIGRATE_DATABASE_URL"):
        require_owner()
