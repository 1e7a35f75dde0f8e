"""What happens when a process dies in the middle, when two do the same at once, and when the database restarts."""

from __future__ import annotations

import json
import urllib.error
import urllib.request

import pytest

from tests.own_practice import OwnPractice, served

LAB = """
import datetime as dt
from tests.labtests.bench_text import bench_bytes, curve_rows
from catalogue import services as catalogue
from core.models import User
from core.gate.permissions import Role
from core.accounts.provisioning import membership_grant, user_create
from labtests import services

for name in ("technician", "technician2", "ann", "bea"):
    user = user_create(actor=None, username=name, password="never used to sign in")
    role = Role.TECHNICIAN if name.startswith("technician") else Role.REVIEWER
    membership_grant(actor=None, user=user, role=role)
brand = catalogue.brand_create(actor=None, slug="fenwright", name="Fenwright")
catalogue.shoe_create(actor=None, slug="fenrunner-2", brand=brand, name="Fenrunner", version="2")
rig = services.rig_create(actor=None, code="rig-1")
for quantity in ("force", "torque", "displacement", "angle", "temperature"):
    services.calibration_record(
        actor=None, rig=rig, quantity=quantity, certificate="C", calibrated_on=dt.date(2025, 6, 1),
        due_on=dt.date(2026, 12, 31), standard_uncertainty=0.01, resolution=0.01,
    )
"""
# The day of the files, whenever the tests run.
WORDS = """
import datetime as dt, json, threading
from tests.labtests.bench_text import bench_bytes, curve_rows
from core import audit
from core.audit import trail
from core.audit.verification import faults
from core.domain.errors import DomainError
from core.models import User
from labtests import services
from labtests.models import BenchTest, Upload

AT = dt.datetime(2026, 3, 6, tzinfo=dt.UTC)
def user(name):
    return User.objects.get(username=name)
def send(name, specimen):
    rows = curve_rows([(5.1 + d, 5.9 + d) for d in (-0.02, 0.0, 0.02)])
    data = bench_bytes(rows, specimen=specimen)
    return services.upload_store(actor=user(name), name="a.csv", data=data, at=AT)
def at_once(*works):
    from django.db import connection
    together, reply = threading.Barrier(len(works)), [None] * len(works)
    def work(index):
        together.wait()
        try:
            reply[index] = works[index]()
        except DomainError as problem:
            reply[index] = problem.code
        finally:
            connection.close()
    threads = [threading.Thread(target=work, args=[index]) for index in range(len(works))]
    [thread.start() for thread in threads]
    [thread.join() for thread in threads]
    return reply
def report(**found):
    print(json.dumps({**found, "faults": [str(fault) for fault in faults()]}))
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


@pytest.fixture(scope="module")
def practice(tmp_path_factory):
    practice = OwnPractice.open(tmp_path_factory.mktemp("own"), then=LAB)
    yield practice
    practice.server.cleanup()


def rows(practice):
    return {table: practice.count(f"SELECT count(*) FROM {table}") for table in (*TABLES, "core_auditentry")}


@POINTS
def test_upload_killed_in_the_middle_leaves_nothing_and_can_be_sent_again(practice, point):
    specimen = f"K-{len(point)}"
    before = rows(practice)
    practice.kill_where_it_halts(f"{WORDS}{point}send('technician', {specimen!r})")
    assert rows(practice) == before
    again = practice.run(f"{WORDS}upload = send('technician', {specimen!r})\nreport(repeat=upload.is_repeat)")
    assert json.loads(again) == {"repeat": False, "faults": []}
    assert rows(practice) == {
        "labtests_upload": before["labtests_upload"] + 1,
        "labtests_specimen": before["labtests_specimen"] + 1,
        "labtests_benchtest": before["labtests_benchtest"] + 1,
        "labtests_curve": before["labtests_curve"] + 9,
        "labtests_result": before["labtests_result"] + 1,
        "core_auditentry": before["core_auditentry"] + 3,
    }


def test_review_killed_in_the_middle_leaves_the_test_waiting_and_can_be_given_again(practice):
    approve = "services.bench_test_approve(actor=user('ann'), test=test, reason='')"
    stored = f"{WORDS}test = send('technician', 'R-1').tests.get()\n"
    pk = int(practice.run(f"{stored}print(test.pk)"))
    found = f"{WORDS}test = BenchTest.objects.get(pk={pk})\n"
    before = rows(practice)
    practice.kill_where_it_halts(f"{found}{AFTER_THE_TRAIL}{approve}")
    assert rows(practice) == before
    assert practice.count(f"SELECT state FROM labtests_benchtest WHERE id = {pk}") == "accepted"
    assert json.loads(practice.run(f"{found}report(state={approve}.state)")) == {"state": "approved", "faults": []}


def test_of_two_reviewers_at_once_one_wins_and_the_other_is_refused(practice):
    reply = practice.run(
        f"""{WORDS}
test = send('technician', 'T-1').tests.get()
won = at_once(
    lambda: services.bench_test_approve(actor=user('ann'), test=test, reason='').reviewed_by.username,
    lambda: services.bench_test_approve(actor=user('bea'), test=test, reason='').reviewed_by.username,
)
report(won=won, entries=trail.entries_of(test).count())"""
    )
    found = json.loads(reply)
    assert sorted(found["won"]) in (["already_reviewed", "ann"], ["already_reviewed", "bea"])
    assert (found["entries"], found["faults"]) == (2, [])


def test_same_file_sent_by_two_at_once_is_one_record_and_both_get_the_answer(practice):
    reply = practice.run(
        f"""{WORDS}
def answer(name):
    upload = send(name, 'S-1')
    return upload.pk, upload.is_repeat, upload.verdict
sent = at_once(lambda: answer('technician'), lambda: answer('technician2'))
stored = Upload.objects.filter(pk__in=[upload[0] for upload in sent]).count()
report(sent=sent, stored=stored, tests=BenchTest.objects.filter(specimen__code='S-1').count())"""
    )
    found = json.loads(reply)
    first, second = found["sent"]
    assert first[0] == second[0]
    assert sorted([first[1], second[1]]) == [False, True]
    assert first[2] == second[2]
    assert (found["stored"], found["tests"], found["faults"]) == (1, 1, [])


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
