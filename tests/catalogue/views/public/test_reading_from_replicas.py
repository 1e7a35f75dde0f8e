"""Visitors read from a streaming replica, everybody else from the primary, with real servers that go away."""

from __future__ import annotations

import time
from types import SimpleNamespace

import pytest
from django.db import OperationalError, connection, connections
from django.test import Client

from catalogue.models import Shoe
from core.database import replicas, sources
from core.models import User
from tests.clusters import copy_of, dump_of_empty, new_server
from tests.people import make_cast, person

PAGES = ("/", "/shoes/corvane-lantern-1/", "/shoes/corvane-lantern-1/similar/", "/stores/", "/how-we-measure/")
ANSWERS = ("/api/catalogue/shoes/", "/api/catalogue/shoes/corvane-lantern-1/", "/api/catalogue/bands/")
WAIT_S = 15.0


@pytest.fixture(scope="module")
def clusters(django_db_setup, tmp_path_factory):
    """A primary with the tests' empty database, and its replica."""
    name = str(connection.settings_dict["NAME"])
    dump = dump_of_empty(tmp_path_factory)
    with new_server() as primary:
        primary.load(name, dump)
        with copy_of(primary.address, follows=True) as replica:
            yield SimpleNamespace(primary=primary, replica=replica)


@pytest.fixture
def db(clusters, django_db_blocker):
    """The primary as the database of the application; what is stored there stays for the module's other tests."""
    default = connection.settings_dict
    host = default["HOST"]
    with django_db_blocker.unblock():
        connection.close()
        default["HOST"] = clusters.primary.address["host"]
        try:
            yield
        finally:
            connection.close()
            default["HOST"] = host


@pytest.fixture
def publisher(db):
    return User.objects.filter(username="publisher").first() or person("publisher", "reviewer")


@pytest.fixture
def office(db):
    return User.objects.filter(username="office").first() or make_cast().office


@pytest.fixture
def servers(db, clusters, settings, make_shoe, office):
    """The servers with a published shoe, and the watch over the replica."""
    if not Shoe.objects.filter(slug="corvane-lantern-1").exists():
        make_shoe()
    connections.databases["replica_1"] = {**connection.settings_dict, "HOST": clusters.replica.address["host"]}
    settings.REPLICAS = ["replica_1"]
    watch = replicas.watch()
    try:
        yield SimpleNamespace(primary=clusters.primary, replica=clusters.replica, watch=watch, office=office)
    finally:
        for opened in (*watch._open.values(), connections["replica_1"]):
            opened.close()
        del connections.databases["replica_1"], connections["replica_1"]
        replicas.watch.cache_clear()


@pytest.fixture(autouse=True)
def own_watch(monkeypatch):
    """A watch that looks when the test says so."""
    replicas.watch.cache_clear()
    monkeypatch.setattr(replicas.ReplicaWatch, "start", lambda _: None)
    yield
    replicas.watch.cache_clear()


def wait_until(holds):
    until = time.monotonic() + WAIT_S
    while not holds():
        assert time.monotonic() < until, "not within the time"
        time.sleep(0.1)


def is_usable(servers):
    servers.watch.look()
    return bool(servers.watch.usable())


def queries_of(alias, monkeypatch):
    """Count the requests to open or use a connection."""
    used = []
    wrapper = connections[alias]
    ensure = wrapper.ensure_connection
    monkeypatch.setattr(wrapper, "ensure_connection", lambda: used.append(alias) or ensure())
    return used


def test_visitors_never_ask_the_primary_and_staff_never_ask_a_replica(servers, monkeypatch):
    wait_until(lambda: is_usable(servers))
    asked, away = queries_of("default", monkeypatch), queries_of("replica_1", monkeypatch)
    visitor = Client()
    for address in (*PAGES, *ANSWERS):
        assert visitor.get(address).status_code == 200, address
    assert (asked, bool(away)) == ([], True)
    away.clear()
    staff = Client()
    staff.force_login(servers.office)
    assert staff.get("/").status_code == 200
    assert (bool(asked), away) == (True, [])


def test_catalogue_goes_on_without_the_primary_and_staff_pages_return_by_themselves(servers):
    wait_until(lambda: is_usable(servers))
    staff = Client(raise_request_exception=False)
    staff.force_login(servers.office)
    etag = Client().get("/").headers["ETag"]
    servers.primary.stop()
    servers.watch.look()
    try:
        for address in (*PAGES, *ANSWERS):
            assert Client().get(address).status_code == 200, address
        assert Client().get("/", headers={"If-None-Match": etag}).status_code in (200, 304)
        assert staff.get("/outcomes/").status_code == 503
        assert staff.get("/").status_code == 503
        assert Client().get("/healthz").json() == {"status": "ok", "database": "replicas only"}
        ready = Client().get("/readyz")
        assert (ready.status_code, ready.json()["database"]) == (200, "unreachable")
        assert [each["is_usable"] for each in ready.json()["replicas"]] == [True]
    finally:
        servers.primary.start()
    # A server closes what broke when a request ends; the test's client does not.
    connection.close()
    assert staff.get("/outcomes/").status_code == 200


def test_visitors_are_answered_by_the_primary_where_the_replica_is_gone(servers):
    wait_until(lambda: is_usable(servers))
    assert Client().get("/").status_code == 200
    servers.replica.stop()
    try:
        for address in (*PAGES, *ANSWERS):
            # Nobody has looked since: the first request finds it out, and is answered all the same.
            assert Client().get(address).status_code == 200, address
        assert servers.watch.usable() == []
    finally:
        servers.replica.start()
    wait_until(lambda: is_usable(servers))


def test_late_replica_is_left_out_until_it_has_caught_up(servers, make_shoe):
    wait_until(lambda: is_usable(servers))
    with connections["replica_1"].cursor() as cursor:
        cursor.execute("SET ROLE NONE")
        cursor.execute("SELECT pg_wal_replay_pause()")
    try:
        make_shoe("corvane-meridian-2")
        servers.watch.look()
        servers.watch.look()
        (state,) = servers.watch.states
        assert (state.is_usable, state.problem) == (False, "it is behind the primary")
        assert state.lag_bytes > 0
        # The publication is seen at once, for the primary answers.
        assert Client().get("/shoes/corvane-meridian-2/").status_code == 200
    finally:
        with connections["replica_1"].cursor() as cursor:
            cursor.execute("SELECT pg_wal_replay_resume()")
    wait_until(lambda: is_usable(servers))
    assert Client().get("/shoes/corvane-meridian-2/").status_code == 200


def test_writing_to_a_replica_is_answered_with_503(servers):
    wait_until(lambda: is_usable(servers))
    connection.close()
    primary = connection.settings_dict["HOST"]
    connection.settings_dict["HOST"] = servers.replica.address["host"]
    try:
        answer = Client(raise_request_exception=False).post(
            "/sign-in/", {"username": "nobody", "password": "not this one"}
        )
    finally:
        connection.close()
        connection.settings_dict["HOST"] = primary
    assert answer.status_code == 503


def asked_in_turn(answers, monkeypatch):
    """A watch over two replicas whose servers answer as given, look by look."""
    given = iter(answers)
    watch = replicas.ReplicaWatch(["one", "two"])
    monkeypatch.setattr(watch, "_ask", lambda *_: next(given))
    return watch


def test_replica_must_have_what_the_primary_had_written_at_the_look_before(monkeypatch):
    gone = (None, "connection refused")
    looks = [
        [(100, ""), (100, ""), (90, "")],  # the first look: up to date at once, or not
        [(900, ""), (100, ""), (99, "")],  # the second: what was written before the look is enough
        [gone, (899, ""), (900, "")],  # the primary is away: its last position decides
        [(950, ""), gone, (None, "")],  # one is away, one was promoted
    ]
    watch = asked_in_turn([answer for look in looks for answer in look], monkeypatch)
    usable, away = [], []
    for _ in looks:
        watch.look()
        usable.append(sorted(watch.usable()))
        away.append(watch.is_primary_away)
    assert usable == [["one"], ["one"], ["two"], []]
    assert away == [False, False, True, False]
    assert [state.problem for state in watch.states] == ["connection refused", "it is not a replica"]


def test_usable_replicas_take_turns_and_one_that_failed_is_left_out(monkeypatch):
    watch = asked_in_turn([(1, ""), (1, ""), (1, "")], monkeypatch)
    watch.look()
    first, second = watch.usable(), watch.usable()
    assert sorted(first) == sorted(second) == ["one", "two"]
    assert first != second
    watch.leave_out("one", "it broke off")
    assert watch.usable() == ["two"]


def test_request_whose_sources_all_fail_says_so(rf, settings, monkeypatch):
    settings.REPLICAS = ["one", "two"]
    watch = asked_in_turn([(1, ""), (1, ""), (1, "")], monkeypatch)
    watch.look()
    monkeypatch.setattr(sources, "watch", lambda: watch)
    tried, forgotten = [], []

    def call():
        tried.append(sources._source.get())
        raise OperationalError("away")

    with pytest.raises(OperationalError):
        sources.answer_from_source(rf.get("/"), call, again=lambda: forgotten.append(1))
    assert sorted(tried) == ["default", "one", "two"]
    assert tried[-1] == "default"
    assert len(forgotten) == 2
