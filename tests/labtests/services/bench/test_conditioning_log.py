"""The conditioning log: put in, taken out, struck, and what it does to tests that are uploaded."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from labtests import services
from labtests.models import BenchTest, ConditioningEntry, LoggedConditioning, Specimen
from labtests.services import SpecimenGiven
from tests.labtests.bench_text import READINGS_ROW, bench_bytes, curve_rows, readings_bytes
from tests.shared import shared

HOUR = dt.timedelta(hours=1)
TEST_AT = dt.datetime(2026, 3, 4, 10, 15, tzinfo=dt.UTC)
NEW = SpecimenGiven("F2-01", shoe="fenrunner-2", size_eu=Decimal("42.5"), side="left")
ROWS = curve_rows([(5.08, 5.88), (5.1, 5.9), (5.12, 5.92)])


@shared
def chamber(lab):
    return services.chamber_create(actor=lab.reviewer, code="C-1", name="Walk-in room")


@shared
def other_chamber(lab):
    return services.chamber_create(actor=lab.reviewer, code="C-2")


def put_in(lab, chamber, *, before_h=50.2, actor=None, specimen=NEW, **given):
    """Put a specimen in so many hours before the test of the tests."""
    in_at = TEST_AT - before_h * HOUR
    return services.specimen_in(
        actor=actor or lab.technician,
        chamber=chamber,
        specimen=specimen,
        in_at=in_at,
        at=given.pop("at", in_at),
        **given,
    )


def take_out(lab, entry, *, before_h):
    out_at = TEST_AT - before_h * HOUR
    return services.specimen_out(actor=lab.technician, entry=entry, out_at=out_at, at=out_at)


class Refused:
    """Expect a refusal with its code."""

    def __init__(self, code):
        self.code = code

    def __enter__(self):
        return self

    def __exit__(self, kind, problem, trace):
        assert isinstance(problem, DomainError), f"nothing was refused, {self.code} was expected: {problem!r}"
        assert problem.code == self.code
        self.problem = problem
        return True


def test_specimen_that_is_not_on_record_is_taken_in(lab, chamber):
    entry = put_in(lab, chamber)
    assert (entry.specimen.code, entry.specimen.shoe, entry.specimen.side) == ("F2-01", lab.shoe, "left")
    assert entries_of(entry.specimen).get().action == "labtests.specimen.created"
    (answer,) = entries_of(entry)
    assert answer.action == "labtests.conditioning_entry.put_in"
    assert answer.content["actor_name"] == "technician"
    assert list(faults()) == []


def test_specimen_on_record_needs_its_code_only(lab, chamber):
    lab.accepted(specimen="F2-01")
    put_in(lab, chamber, specimen=SpecimenGiven("F2-01"))
    assert Specimen.objects.count() == 1


@pytest.mark.parametrize(
    ("given", "code"),
    [
        (SpecimenGiven("F2-09"), "unknown_specimen"),
        (SpecimenGiven("F2-09", shoe="no-such", size_eu=Decimal("42"), side="left"), "invalid"),
        (SpecimenGiven("F2-09", shoe="fenrunner-2", size_eu=Decimal("42.3"), side="left"), "invalid"),
        (SpecimenGiven("F2-09", shoe="fenrunner-2", size_eu=Decimal("99"), side="left"), "invalid"),
        (SpecimenGiven("F2 09", shoe="fenrunner-2", size_eu=Decimal("42"), side="left"), "invalid"),
        (SpecimenGiven("F2-09", shoe="fenrunner-2", size_eu=Decimal("42"), side="middle"), "invalid"),
    ],
)
def test_specimen_that_cannot_be_taken_in_is_refused(lab, chamber, given, code):
    with Refused(code):
        put_in(lab, chamber, specimen=given)
    assert not Specimen.objects.exists()
    assert not ConditioningEntry.objects.exists()


@pytest.mark.parametrize(
    ("said", "field"),
    [({"side": "right"}, "side"), ({"size_eu": Decimal("43")}, "size"), ({"shoe": "no-such"}, "shoe")],
)
def test_specimen_must_be_what_its_record_says(lab, chamber, said, field):
    lab.accepted(specimen="F2-01")
    with Refused("invalid") as refusal:
        put_in(lab, chamber, specimen=SpecimenGiven("F2-01", **said))
    assert "is on record with the" in refusal.problem.fields[field][0]


def test_pressing_twice_notes_once(lab, chamber):
    first = put_in(lab, chamber)
    again = put_in(lab, chamber, before_h=50.19)
    assert (again.pk, again.is_repeat, first.is_repeat) == (first.pk, True, False)
    assert entries_of(first).count() == 1


def test_specimen_is_in_one_chamber_at_a_time(lab, chamber, other_chamber):
    put_in(lab, chamber)
    with Refused("already_in_chamber") as refusal:
        put_in(lab, other_chamber, before_h=10)
    assert "has been in chamber C-1 since 2026-03-02 08:03, put in by technician" in refusal.problem.message
    with Refused("already_in_chamber"):
        put_in(lab, chamber, actor=lab.reviewer)


def test_database_itself_keeps_one_open_entry_a_specimen(lab, chamber):
    entry = put_in(lab, chamber)
    again = ConditioningEntry(
        specimen=entry.specimen, chamber=chamber, in_at=TEST_AT, noted_at=TEST_AT, put_in_by=lab.technician
    )
    with pytest.raises(IntegrityError, match="conditioning_one_open"), transaction.atomic():
        again.save()


@pytest.mark.parametrize(
    ("change", "constraint"),
    [
        ({"out_at": TEST_AT - 60 * HOUR, "taken_out_by_id": 1}, "conditioning_out_after_in"),
        ({"out_at": TEST_AT}, "conditioning_out_by"),
        ({"struck_at": TEST_AT}, "conditioning_struck_because"),
        ({"struck_because": "x"}, "conditioning_struck_because"),
    ],
)
def test_database_itself_refuses_what_makes_no_sense(lab, chamber, change, constraint):
    entry = put_in(lab, chamber)
    if "taken_out_by_id" in change:
        change = {**change, "taken_out_by_id": lab.technician.pk}
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        ConditioningEntry.objects.filter(pk=entry.pk).update(**change)


def test_stay_that_is_over_is_noted_at_once(lab, chamber):
    entry = put_in(lab, chamber, before_h=60, out_at=TEST_AT - 5 * HOUR, at=TEST_AT, note="found in the paper log")
    assert entry.taken_out_by == lab.technician
    assert entry.noted_at == TEST_AT


@pytest.mark.parametrize("span", [(70, 55), (55, 52), (70, 1), (30, 10)])
def test_stays_cannot_overlap(lab, chamber, other_chamber, span):
    put_in(lab, chamber, before_h=60, out_at=TEST_AT - 20 * HOUR, at=TEST_AT)
    with Refused("overlaps"):
        put_in(lab, other_chamber, before_h=span[0], out_at=TEST_AT - span[1] * HOUR, at=TEST_AT)


def test_stay_before_and_after_another_is_noted(lab, chamber, other_chamber):
    put_in(lab, chamber, before_h=60, out_at=TEST_AT - 20 * HOUR, at=TEST_AT)
    put_in(lab, other_chamber, before_h=90, out_at=TEST_AT - 60 * HOUR, at=TEST_AT)
    put_in(lab, other_chamber, before_h=20)
    put_in(lab, chamber, before_h=110, out_at=TEST_AT - 95 * HOUR, at=TEST_AT)
    assert ConditioningEntry.objects.count() == 4


def test_open_stay_cannot_reach_over_a_later_one(lab, chamber):
    put_in(lab, chamber, before_h=30, out_at=TEST_AT - 20 * HOUR, at=TEST_AT)
    with Refused("overlaps"):
        put_in(lab, chamber, before_h=60)


@pytest.mark.parametrize(
    "times", [{"before_h": -1, "at": TEST_AT}, {"out_at": TEST_AT + HOUR}, {"before_h": 1_000_000}]
)
def test_times_that_make_no_sense_are_refused(lab, chamber, times):
    with Refused("invalid"):
        put_in(lab, chamber, **times)


def test_out_before_in_is_refused(lab, chamber):
    with Refused("invalid"):
        put_in(lab, chamber, out_at=TEST_AT - 60 * HOUR, at=TEST_AT)


def test_specimen_is_taken_out_once(lab, chamber):
    entry = put_in(lab, chamber)
    out = take_out(lab, entry, before_h=0.2)
    assert (out.out_at, out.taken_out_by) == (TEST_AT - 0.2 * HOUR, lab.technician)
    assert take_out(lab, entry, before_h=0.2).is_repeat
    with Refused("out_already"):
        take_out(lab, entry, before_h=0.1)
    assert [one.action for one in entries_of(entry)] == [
        "labtests.conditioning_entry.taken_out",
        "labtests.conditioning_entry.put_in",
    ]


@pytest.mark.parametrize("before_h", [50.2, 60])
def test_specimen_is_taken_out_after_it_was_put_in(lab, chamber, before_h):
    entry = put_in(lab, chamber)
    with Refused("invalid"):
        services.specimen_out(actor=lab.technician, entry=entry, out_at=TEST_AT - before_h * HOUR, at=TEST_AT)


def test_taking_out_is_not_noted_ahead(lab, chamber):
    entry = put_in(lab, chamber)
    with Refused("invalid"):
        services.specimen_out(actor=lab.technician, entry=entry, out_at=TEST_AT + HOUR, at=TEST_AT)


def test_entry_is_struck_with_a_reason_and_written_again(lab, chamber, other_chamber):
    entry = put_in(lab, chamber)
    with Refused("reason_required"):
        services.conditioning_strike(actor=lab.technician, entry=entry, reason=" ")
    struck = services.conditioning_strike(actor=lab.technician, entry=entry, reason="wrong chamber")
    assert struck.struck_by == lab.technician
    with Refused("struck"):
        services.conditioning_strike(actor=lab.reviewer, entry=entry, reason="again")
    with Refused("struck"):
        take_out(lab, entry, before_h=1)
    assert put_in(lab, other_chamber).pk != entry.pk
    assert entries_of(entry).first().content["reason"] == "wrong chamber"
    assert list(faults()) == []


def test_hours_come_from_the_log_and_not_from_the_file(lab, chamber):
    entry = take_out(lab, put_in(lab, chamber, before_h=50.2), before_h=0.25)
    test = lab.upload(bench_bytes(ROWS, conditioned="50.2 h")).tests.get()
    assert test.state == "accepted"
    assert test.conditioned_h == pytest.approx(49.95)
    logged = test.logged_conditioning
    assert (logged.entry, logged.claimed_h, logged.out_h) == (entry, 50.2, pytest.approx(0.25))
    assert entries_of(logged).get().action == "labtests.logged_conditioning.counted"
    assert list(faults()) == []


def test_difference_beyond_rounding_holds_with_both_values(lab, chamber):
    put_in(lab, chamber, before_h=49.0)
    upload = lab.upload(bench_bytes(ROWS, conditioned="60 h"))
    (held,) = upload.verdict["held"]
    assert held["reasons"] == [
        "the conditioning log gives 49.00 h, the file claims 60.00 h; they may differ by 0.5 h at most"
    ]
    assert upload.tests.get().conditioned_h == pytest.approx(49.0)


def test_too_few_hours_by_the_log_hold_though_the_file_claims_enough(lab, chamber):
    put_in(lab, chamber, before_h=26.0)
    test = lab.upload(bench_bytes(ROWS)).tests.get()
    assert [reason["code"] for reason in test.reasons] == ["conditioned_h", "conditioning_differs"]
    assert "conditioning time is 26 h; accepted: at least 48 h" in test.reasons[0]["message"]


def test_claim_of_too_few_does_not_hold_where_the_log_knows_better_but_the_difference_does(lab, chamber):
    put_in(lab, chamber, before_h=50.0)
    test = lab.upload(bench_bytes(ROWS, conditioned="12 h")).tests.get()
    assert [reason["code"] for reason in test.reasons] == ["conditioning_differs"]


def test_specimen_that_lay_out_too_long_is_held(lab, chamber):
    take_out(lab, put_in(lab, chamber, before_h=80.0), before_h=5.0)
    test = lab.upload(bench_bytes(ROWS, conditioned="71 h")).tests.get()
    assert test.conditioned_h == pytest.approx(75.0 - 4.0)
    assert [reason["code"] for reason in test.reasons] == ["conditioning_lapsed"]


def test_claim_counts_where_the_log_does_not_speak_of_the_test(lab, chamber):
    take_out(lab, put_in(lab, chamber, before_h=300.0), before_h=200.0)
    test = lab.upload(bench_bytes(ROWS)).tests.get()
    assert (test.state, test.conditioned_h) == ("accepted", 50.2)
    assert not LoggedConditioning.objects.exists()


def test_struck_entry_does_not_count(lab, chamber):
    services.conditioning_strike(actor=lab.technician, entry=put_in(lab, chamber, before_h=10), reason="wrong shoe")
    test = lab.upload(bench_bytes(ROWS)).tests.get()
    assert (test.state, test.conditioned_h) == ("accepted", 50.2)


def test_readings_file_is_judged_by_the_log_too(lab, chamber):
    put_in(lab, chamber, before_h=50.2)
    rows = [READINGS_ROW.format(1, 5.1, 5.9), READINGS_ROW.format(2, 5.2, 6.0).replace(",50.2,", ",51.5,")]
    test = lab.upload(readings_bytes(rows)).tests.get()
    assert test.conditioned_h == pytest.approx(50.2)
    assert test.logged_conditioning.claimed_h == pytest.approx(50.85)
    assert "claims 51.50 h" in test.reasons[0]["message"]
    # What each repeat was said to be stays as it was said.
    assert [reading.conditions["conditioned_h"] for reading in test.readings.all()] == [50.2, 51.5]


def test_preview_says_the_same_as_storing(lab, chamber):
    put_in(lab, chamber, before_h=26.0)
    data = bench_bytes(ROWS)
    preview = services.upload_preview(actor=lab.technician, name="a.csv", data=data)
    assert preview.held[0]["reasons"] == lab.upload(data).verdict["held"][0]["reasons"]


def test_striking_holds_tests_that_wait_and_leaves_decided_ones(lab, chamber):
    entry = put_in(lab, chamber)
    waiting = lab.upload(bench_bytes(ROWS)).tests.get()
    decided = lab.approved(specimen="F2-01", temperature="23.5 degC")
    assert decided.logged_conditioning.entry == entry
    services.conditioning_strike(actor=lab.technician, entry=entry, reason="it was F2-02")
    waiting.refresh_from_db()
    decided.refresh_from_db()
    assert (waiting.state, decided.state) == ("held", "approved")
    assert waiting.reasons[-1]["message"] == "the conditioning entry that its hours came from was struck: it was F2-02"
    assert entries_of(waiting).first().content["reason"] == "it was F2-02"
    assert list(faults()) == []


def test_striking_an_earlier_stay_of_the_same_conditioning_holds_too(lab, chamber, other_chamber):
    first = take_out(lab, put_in(lab, chamber, before_h=60), before_h=20.5)
    put_in(lab, other_chamber, before_h=20)
    test = lab.upload(bench_bytes(ROWS, conditioned="59.5 h")).tests.get()
    assert test.state == "accepted"
    services.conditioning_strike(actor=lab.reviewer, entry=first, reason="never lay there")
    test.refresh_from_db()
    assert test.state == "held"


def bundle(lab, chamber, codes):
    """A ZIP of tests of these specimens, each in the log."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for code in codes:
            put_in(lab, chamber, specimen=SpecimenGiven(code, "fenrunner-2", Decimal("42.5"), "left"))
            archive.writestr(f"{code}.csv", bench_bytes(ROWS, specimen=code))
    return buffer.getvalue()


def test_log_is_read_in_one_query_a_chunk_however_many_files(lab, chamber):
    read, all_of_them = [], []
    for mark, count in (("A", 2), ("B", 20)):
        data = bundle(lab, chamber, [f"{mark}-{number}" for number in range(count)])
        with CaptureQueriesContext(connection) as seen:
            upload = lab.upload(data, name="a.zip")
        assert len(upload.verdict["accepted"]) == count
        log = [query for query in seen if 'FROM "labtests_conditioningentry"' in query["sql"]]
        read.append(len(log))
        all_of_them.append(len(seen))
    assert read == [1, 1]
    assert all_of_them[0] == all_of_them[1]
    assert BenchTest.objects.filter(logged_conditioning__isnull=False).count() == 22
