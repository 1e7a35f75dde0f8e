"""What happens when a process dies in the middle, when two do the same at once, and when the database restarts."""

from __future__ import annotations

import datetime as dt
import json
import urllib.error
import urllib.request

import pytest
from django.db import connection

from core.audit import trail
from core.audit.verification import faults
from labtests import services
from labtests.models import BenchTest, Upload
from tests.databases import at_once, committed_database, server, url_of
from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.own_practice import OwnPractice, Processes, served
from tests.people import person

# The day of the files, whenever the tests run.
AT = dt.datetime(2026, 3, 6, tzinfo=dt.UTC)
WORDS = """
import datetime as dt
from pathlib import Path
from core import audit
from core.audit import trail
from core.models import User
from labtests import services
from labtests.models import BenchTest

def user(name):
    return User.objects.get(username=name)
"""
# Rows are stored but no entry written; entries are written but nothing committed.
BEFORE_THE_TRAIL = "audit.record_many = trail.record_many = halt\n"
AFTER_THE_TRAIL = """
write = trail.record_many
def record_many(*args, **kwargs):
    write(*args, **kwargs)
    halt()
audit.record_many = trail.record_many = record_many
"""
POINTS = pytest.mark.parametrize(
    "point", [BEFORE_THE_TRAIL, AFTER_THE_TRAIL], ids=["before the trail", "before the end"]
)
TABLES = ("labtests_upload", "labtests_specimen", "labtests_benchtest", "labtests_curve", "labtests_result")

db = pytest.fixture(committed_database)


@pytest.fixture
def processes(lab):
    """Processes on the database of the test, which has a lab in it."""
    return Processes.on(url_of(server(), str(connection.settings_dict["NAME"])))


def rows():
    with connection.cursor() as cursor:
        counts = {}
        for table in (*TABLES, "core_auditentry"):
            cursor.execute(f"SELECT count(*) FROM {table}")
            (counts[table],) = cursor.fetchone()
    return counts


def file_of(specimen):
    return bench_bytes(curve_rows([(5.1 + d, 5.9 + d) for d in (-0.02, 0.0, 0.02)]), specimen=specimen)


def send(user, specimen):
    return services.upload_store(actor=user, name="a.csv", data=file_of(specimen), at=AT)


@POINTS
def test_upload_killed_in_the_middle_leaves_nothing_and_can_be_sent_again(lab, processes, tmp_path, point):
    (tmp_path / "a.csv").write_bytes(file_of("K-1"))
    upload = f"data=Path({str(tmp_path)!r}, 'a.csv').read_bytes(), at=dt.datetime.fromisoformat({AT.isoformat()!r})"
    before = rows()
    processes.kill_where_it_halts(
        f"{WORDS}{point}services.upload_store(actor=user({lab.technician.username!r}), name='a.csv', {upload})"
    )
    assert rows() == before
    assert not send(lab.technician, "K-1").is_repeat
    assert list(faults()) == []
    assert rows() == {
        "labtests_upload": before["labtests_upload"] + 1,
        "labtests_specimen": before["labtests_specimen"] + 1,
        "labtests_benchtest": before["labtests_benchtest"] + 1,
        "labtests_curve": before["labtests_curve"] + 9,
        "labtests_result": before["labtests_result"] + 1,
        "core_auditentry": before["core_auditentry"] + 3,
    }


def test_review_killed_in_the_middle_leaves_the_test_waiting_and_can_be_given_again(lab, processes):
    test = send(lab.technician, "R-1").tests.get()
    before = rows()
    processes.kill_where_it_halts(
        f"{WORDS}{AFTER_THE_TRAIL}test = BenchTest.objects.get(pk={test.pk})\n"
        f"services.bench_test_approve(actor=user({lab.reviewer.username!r}), test=test, reason='')"
    )
    assert rows() == before
    assert BenchTest.objects.get(pk=test.pk).state == "accepted"
    assert services.bench_test_approve(actor=lab.reviewer, test=test, reason="").state == "approved"
    assert list(faults()) == []


def test_of_two_reviewers_at_once_one_wins_and_the_other_is_refused(lab):
    test = send(lab.technician, "T-1").tests.get()

    def approve(reviewer):
        return services.bench_test_approve(actor=reviewer, test=test, reason="").reviewed_by.username

    won = at_once(approve, lab.reviewer, person("bea", "reviewer"))
    assert won in (["already_reviewed", lab.reviewer.username], ["already_reviewed", "bea"])
    assert trail.entries_of(test).count() == 2
    assert list(faults()) == []


def test_same_file_sent_by_two_at_once_is_one_record_and_both_get_the_answer(lab):
    def answer(technician):
        upload = send(technician, "S-1")
        return upload.pk, upload.is_repeat, upload.verdict

    first, second = at_once(answer, lab.technician, person("technician2", "technician"))
    assert first[0] == second[0]
    assert [first[1], second[1]] == [False, True]
    assert first[2] == second[2]
    assert Upload.objects.filter(pk=first[0]).count() == 1
    assert BenchTest.objects.filter(specimen__code="S-1").count() == 1
    assert list(faults()) == []


@pytest.fixture
def practice(django_db_setup, tmp_path_factory):
    practice = OwnPractice.open(tmp_path_factory, "own")
    yield practice
    practice.server.cleanup()


def look(url, path):
    try:
        with urllib.request.urlopen(url + path, timeout=30) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as problem:
        return problem.code, problem.read().decode()


def test_database_that_stops_while_serving_is_reported_and_found_again(practice):
    with served(practice) as url:
        assert look(url, "/")[0] == 200
        practice.stop_database()
        try:
            status, text = look(url, "/")
            assert (status, "cannot be reached" in text) == (503, True)
            status, text = look(url, "/api/catalogue/shoes/")
            assert (status, json.loads(text)["code"]) == (503, "unavailable")
            assert look(url, "/healthz")[0] == 503
        finally:
            practice.start_database()
        assert look(url, "/")[0] == 200
        assert look(url, "/api/catalogue/shoes/")[0] == 200
