"""Specimens from the day they come to the day they go; check shoes are a kind of their own."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from labtests import services
from labtests.models import BenchTest, Receipt, Specimen, SpecimenKind
from tests.labtests.bench_text import bench_bytes

DAY = dt.date(2026, 3, 2)


def received(lab, **change):
    given = {"receipt": services.ReceiptGiven("shop", DAY), "size_eu": Decimal("42.5"), **change}
    return services.specimens_receive(actor=lab.technician, shoe=lab.shoe, **given)


def code_of(problem):
    return problem.value.code


def test_pair_gets_a_code_for_each_side_and_the_next_pair_others(lab):
    assert [(one.code, one.side) for one in received(lab)] == [
        ("FENRUNNER-2-01-L", "left"),
        ("FENRUNNER-2-01-R", "right"),
    ]
    assert [one.code for one in received(lab, sides=["right"])] == ["FENRUNNER-2-02-R"]
    assert [one.code for one in received(lab, stem="pair.9")] == ["pair.9-L", "pair.9-R"]
    assert Receipt.objects.count() == 3
    assert list(faults()) == []


def test_bench_file_of_a_received_specimen_is_a_test_of_it(lab):
    left = received(lab)[0]
    upload = lab.upload(bench_bytes(specimen=left.code))
    assert upload.tests.get().specimen == left
    refused = lab.upload(bench_bytes(specimen=left.code, side="right"), name="b.csv").verdict["rejected"]
    assert "on record with the side left" in refused[0]["problem"]


def test_specimen_that_a_file_names_first_is_a_sample_without_a_receipt(lab):
    specimen = lab.accepted().specimen
    assert (specimen.kind, specimen.receipt, specimen.place) == ("sample", None, "")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"size_eu": Decimal("42.3")}, "size_eu"),
        ({"size_eu": Decimal("99")}, None),
        ({"sides": []}, "sides"),
        ({"stem": "two words"}, "stem"),
        ({"stem": "x" * 63}, "stem"),
        ({"receipt": services.ReceiptGiven("shop", dt.date(2999, 1, 1))}, "received_on"),
        ({"receipt": services.ReceiptGiven("stolen", DAY)}, "source"),
        ({"receipt": services.ReceiptGiven("shop", DAY, price=Decimal("9.90"))}, None),
        ({"receipt": services.ReceiptGiven("shop", DAY, price=Decimal(-1), currency="EUR")}, None),
        ({"receipt": services.ReceiptGiven("shop", DAY, currency="euro")}, "currency"),
        ({"place": "a\nb"}, "place"),
        ({"kind": "other"}, "kind"),
    ],
)
def test_what_cannot_be_received_is_refused_whole(lab, change, field):
    from django.db import transaction

    with pytest.raises(DomainError) as problem, transaction.atomic():
        received(lab, **change)
    assert field is None or field in problem.value.fields
    assert not Specimen.objects.exists()
    assert not Receipt.objects.exists()


def test_taken_code_is_named(lab):
    received(lab, stem="A")
    with pytest.raises(DomainError, match="already a specimen A-R") as problem:
        received(lab, stem="A", sides=["right"])
    assert (code_of(problem), problem.value.status) == ("taken", 409)


def test_specimen_is_moved_and_disposed_of_with_entries_in_the_trail(lab):
    specimen = received(lab)[0]
    services.specimen_move(actor=lab.technician, specimen=specimen, place=" shelf 4 ")
    gone = services.specimen_dispose(actor=lab.technician, specimen=specimen, on=DAY, reason="midsole cut open")
    assert (gone.place, gone.disposed_on, gone.disposed_by) == ("shelf 4", DAY, lab.technician)
    with pytest.raises(DomainError, match="midsole cut open") as again:
        services.specimen_dispose(actor=lab.technician, specimen=specimen, on=DAY, reason="x")
    assert code_of(again) == "disposed"
    with pytest.raises(DomainError):
        services.specimen_move(actor=lab.technician, specimen=specimen, place="bin")
    back = services.specimen_restore(actor=lab.technician, specimen=specimen, reason="it was the other one")
    assert back.disposed_on is None
    with pytest.raises(DomainError, match="not disposed of"):
        services.specimen_restore(actor=lab.technician, specimen=specimen, reason="x")
    actions = [entry.action.rpartition(".")[2] for entry in entries_of(specimen).order_by("id")]
    assert actions == ["created", "moved", "disposed", "restored"]
    assert list(faults()) == []


@pytest.mark.parametrize(
    ("on", "reason", "code"), [(dt.date(2999, 1, 1), "x", "invalid"), (DAY, "  ", "reason_required")]
)
def test_disposal_needs_a_day_that_was_and_a_reason(lab, on, reason, code):
    with pytest.raises(DomainError) as problem:
        services.specimen_dispose(actor=lab.technician, specimen=received(lab)[0], on=on, reason=reason)
    assert code_of(problem) == code


def test_disposal_is_not_before_the_last_test_that_counts(lab):
    specimen = lab.accepted(performed="2026-03-04T10:15:00+00:00").specimen
    with pytest.raises(DomainError, match="on 2026-03-04; give that day or a later one") as problem:
        services.specimen_dispose(actor=lab.technician, specimen=specimen, on=dt.date(2026, 3, 3), reason="torn")
    assert code_of(problem) == "tested_after"
    services.specimen_dispose(actor=lab.technician, specimen=specimen, on=dt.date(2026, 3, 4), reason="torn")


def test_specimen_in_a_chamber_or_on_duty_is_not_disposed_of(lab):
    in_chamber, on_duty = received(lab, kind=SpecimenKind.CHECK)
    chamber = services.chamber_create(actor=None, code="C-1")
    services.specimen_in(actor=lab.technician, chamber=chamber, specimen=services.SpecimenGiven(in_chamber.code))
    services.check_shoe_designate(actor=lab.technician, rig=lab.rig, specimen=on_duty, since=DAY, reason="solid")
    for specimen, code in ((in_chamber, "in_chamber"), (on_duty, "on_duty")):
        with pytest.raises(DomainError) as problem:
            services.specimen_dispose(actor=lab.technician, specimen=specimen, on=DAY, reason="x")
        assert code_of(problem) == code


def test_specimen_that_is_gone_is_not_put_into_a_chamber_afterwards(lab):
    specimen = received(lab)[0]
    services.specimen_dispose(actor=lab.technician, specimen=specimen, on=DAY, reason="torn")
    chamber, given = services.chamber_create(actor=None, code="C-1"), services.SpecimenGiven(specimen.code)
    with pytest.raises(DomainError, match="was disposed of") as problem:
        services.specimen_in(actor=lab.technician, chamber=chamber, specimen=given)
    assert code_of(problem) == "disposed"
    early = dt.datetime(2026, 3, 1, 8, tzinfo=dt.UTC)
    later = early + dt.timedelta(hours=5)
    services.specimen_in(actor=lab.technician, chamber=chamber, specimen=given, in_at=early, out_at=later)


def test_tests_of_a_received_check_shoe_never_count_for_the_shoe(lab):
    code = received(lab, kind=SpecimenKind.CHECK)[0].code
    lab.approved(specimen=code)
    assert not BenchTest.objects.publishable().exists()
    proposal = services.shoe_proposal(shoe=lab.shoe)
    assert "the specimen is a check shoe" in proposal.left_out[0][1]
    assert proposal.tests == ()


def test_sample_whose_tests_count_does_not_become_a_check_shoe(lab):
    test = lab.approved(specimen="F2-01")
    with pytest.raises(DomainError, match=f"its test {test.pk} counts") as problem:
        services.check_shoe_designate(
            actor=lab.technician, rig=lab.rig, specimen=test.specimen, since=dt.date(2026, 3, 5), reason="x"
        )
    assert (code_of(problem), problem.value.status) == ("is_sample", 409)
    assert Specimen.objects.get().kind == SpecimenKind.SAMPLE


def test_sample_that_goes_on_duty_is_a_check_shoe_for_good(lab):
    test = lab.accepted(specimen="F2-01")
    duty = services.check_shoe_designate(
        actor=lab.technician, rig=lab.rig, specimen=test.specimen, since=DAY, reason="stable"
    )
    services.check_shoe_retire(actor=lab.reviewer, duty=duty, reason="torn")
    assert Specimen.objects.get().kind == SpecimenKind.CHECK
    assert entries_of(test.specimen).order_by("-id")[0].action == "labtests.specimen.made_check_shoe"
    assert list(faults()) == []


def test_specimen_that_is_gone_does_not_go_on_duty(lab):
    specimen = received(lab, kind=SpecimenKind.CHECK)[0]
    services.specimen_dispose(actor=lab.technician, specimen=specimen, on=DAY, reason="torn")
    with pytest.raises(DomainError, match="was disposed of"):
        services.check_shoe_designate(actor=lab.technician, rig=lab.rig, specimen=specimen, since=DAY, reason="x")
