"""Decisions on tests: four eyes, once, with reasons, in the trail."""

from __future__ import annotations

import pytest

from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from labtests import services
from labtests.models import BenchTest
from tests.labtests.bench_text import bench_bytes, curve_rows

DECISIONS = ["bench_test_approve", "bench_test_keep_on_record", "bench_test_hold", "bench_test_void"]


def held(lab, **change):
    return lab.upload(bench_bytes(curve_rows([(5.1, 5.9)] * 3), temperature="30 degC", **change)).tests.get()


def decide(name, **given):
    return getattr(services, name)(**given)


def test_reviewer_approves(lab):
    test = services.bench_test_approve(actor=lab.reviewer, test=lab.accepted(), reason="")
    assert (test.state, test.reviewed_by, test.is_released) == ("approved", lab.reviewer, False)
    assert entries_of(test).first().action == "labtests.test.approved"
    assert list(faults()) == []


@pytest.mark.parametrize("name", DECISIONS)
def test_operator_never_decides(lab, name):
    test = lab.upload(bench_bytes(operator="reviewer")).tests.get()
    with pytest.raises(DomainError, match="you carried it out") as caught:
        decide(name, actor=lab.reviewer, test=test, reason="because")
    assert caught.value.status == 403


@pytest.mark.parametrize("name", DECISIONS)
def test_uploader_never_decides(lab, name):
    test = lab.upload(bench_bytes(), actor=lab.reviewer).tests.get()
    with pytest.raises(DomainError, match="you uploaded it"):
        decide(name, actor=lab.reviewer, test=test, reason="because")


def test_second_reviewer_is_refused(lab):
    test = lab.accepted()
    services.bench_test_approve(actor=lab.reviewer, test=test, reason="")
    with pytest.raises(DomainError, match="already approved by reviewer") as caught:
        services.bench_test_approve(actor=lab.reviewer, test=test, reason="")
    assert (caught.value.status, caught.value.code) == (409, "already_reviewed")


@pytest.mark.parametrize("name", ["bench_test_approve", "bench_test_hold", "bench_test_void"])
def test_row_is_locked_before_it_is_judged(lab, name):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    test = lab.accepted()
    with CaptureQueriesContext(connection) as queries:
        decide(name, actor=lab.reviewer, test=test, reason="because")
    touching = [query["sql"] for query in queries if "labtests_benchtest" in query["sql"]]
    assert "FOR UPDATE" in touching[0]


def test_held_test_cannot_be_approved_but_put_on_record(lab):
    test = held(lab)
    with pytest.raises(DomainError, match="midsole temperature is 30") as caught:
        services.bench_test_approve(actor=lab.reviewer, test=test, reason="")
    assert caught.value.status == 409
    on_record = services.bench_test_keep_on_record(
        actor=lab.reviewer, test=test, reason="room was warm, checked by hand"
    )
    assert (on_record.state, on_record.is_released) == ("approved", True)
    assert list(faults()) == []


def test_test_on_record_alone_never_counts_as_publishable(lab):
    services.bench_test_keep_on_record(actor=lab.reviewer, test=held(lab), reason="seen")
    assert not BenchTest.objects.publishable().exists()


def test_test_within_the_protocol_needs_no_release(lab):
    with pytest.raises(DomainError, match="is not held"):
        services.bench_test_keep_on_record(actor=lab.reviewer, test=lab.accepted(), reason="why not")


def test_test_without_scores_cannot_be_put_on_record(lab):
    test = lab.upload(bench_bytes(["torsion,1,loading,0,0", "torsion,1,loading,9,4"])).tests.get()
    with pytest.raises(DomainError, match="it has no scores") as caught:
        services.bench_test_keep_on_record(actor=lab.reviewer, test=test, reason="because")
    assert caught.value.code == "not_scored"


@pytest.mark.parametrize("name", ["bench_test_keep_on_record", "bench_test_hold", "bench_test_void"])
def test_reason_is_required(lab, name):
    with pytest.raises(DomainError, match="Give a reason"):
        decide(name, actor=lab.reviewer, test=lab.accepted(), reason="  ")


def test_reviewer_puts_on_hold_with_a_reason_that_is_kept(lab):
    test = services.bench_test_hold(actor=lab.reviewer, test=lab.accepted(), reason="curve looks kinked")
    assert (test.state, test.reasons) == ("held", [{"code": "reviewer", "message": "curve looks kinked"}])
    with pytest.raises(DomainError, match="already held"):
        services.bench_test_hold(actor=lab.reviewer, test=test, reason="again")


def test_approved_test_can_be_voided_and_stays_on_record(lab):
    test = services.bench_test_void(actor=lab.reviewer, test=lab.approved(), reason="wrong specimen")
    assert (test.state, test.review_reason) == ("void", "wrong specimen")
    assert test.curves.exists()
    with pytest.raises(DomainError, match="already voided"):
        services.bench_test_void(actor=lab.reviewer, test=test, reason="again")


def test_entry_keeps_what_was_before_and_why(lab):
    test = services.bench_test_void(actor=lab.reviewer, test=lab.accepted(), reason="clamp slipped")
    content = entries_of(test).first().content
    assert content["before"]["state"] == "accepted"
    assert content["after"]["state"] == "void"
    assert content["reason"] == "clamp slipped"


def test_amendment_makes_a_successor_and_voids_the_test(lab):
    test = lab.accepted()
    corrected = bench_bytes(curve_rows([(5.3, 5.9)] * 3))
    successor = services.bench_test_amend(
        actor=lab.technician, test=test, name="b.csv", data=corrected, reason="torque offset"
    )
    test.refresh_from_db()
    assert (test.state, successor.state, successor.amends) == ("void", "accepted", test)
    assert test.review_reason == f"amended by test {successor.pk}: torque offset"
    assert list(faults()) == []


def test_amendment_by_a_refused_file_stores_nothing(lab):
    test = lab.accepted()
    with pytest.raises(DomainError, match="one test of specimen F2-01") as caught:
        services.bench_test_amend(actor=lab.technician, test=test, name="b.csv", data=b"\xff", reason="offset")
    assert "not UTF-8" in caught.value.fields["file"][0]
    test.refresh_from_db()
    assert test.state == "accepted"
    assert type(test.upload).objects.count() == 1


def test_amendment_by_another_specimen_is_refused(lab):
    test = lab.accepted()
    with pytest.raises(DomainError, match="one test of specimen F2-01"):
        services.bench_test_amend(
            actor=lab.technician, test=test, name="b.csv", data=bench_bytes(specimen="F2-02"), reason="offset"
        )


def test_amendment_by_the_same_file_is_refused(lab):
    data = bench_bytes()
    test = lab.upload(data).tests.get()
    with pytest.raises(DomainError, match="already on record"):
        services.bench_test_amend(actor=lab.technician, test=test, name="a.csv", data=data, reason="offset")


def test_void_test_cannot_be_amended(lab):
    test = services.bench_test_void(actor=lab.reviewer, test=lab.accepted(), reason="slipped")
    with pytest.raises(DomainError, match="is void"):
        services.bench_test_amend(actor=lab.technician, test=test, name="b.csv", data=b"", reason="offset")
