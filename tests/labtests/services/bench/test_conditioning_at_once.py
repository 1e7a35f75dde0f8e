"""Two people, or one finger pressing twice, at the very same moment: one entry."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from core.audit.verification import faults
from labtests import services
from labtests.models import BenchTest, ConditioningEntry, LoggedConditioning, Rig, Specimen
from labtests.services import SpecimenGiven
from tests.databases import at_once, committed_database
from tests.labtests.bench_text import bench_bytes, curve_rows

IN_AT = dt.datetime(2026, 3, 2, 7, 45, tzinfo=dt.UTC)
NEW = SpecimenGiven("F2-01", shoe="fenrunner-2", size_eu=Decimal("42.5"), side="left")
db = pytest.fixture(committed_database)


def test_same_specimen_put_in_at_once_makes_one_entry(lab):
    chamber = services.chamber_create(actor=lab.reviewer, code="C-1")

    def put_in(actor):
        entry = services.specimen_in(actor=actor, chamber=chamber, specimen=NEW, in_at=IN_AT, at=IN_AT)
        return "noted before" if entry.is_repeat else "noted"

    answer = at_once(put_in, lab.technician, lab.technician, lab.reviewer)
    assert answer.count("noted") == 1
    # The technician's second press finds the first; anybody else is refused.
    assert answer in (
        ["already_in_chamber", "noted", "noted before"],
        ["already_in_chamber", "already_in_chamber", "noted"],
    )
    assert (Specimen.objects.count(), ConditioningEntry.objects.count()) == (1, 1)

    entry = ConditioningEntry.objects.get()

    def take_out(hours):
        out_at = IN_AT + dt.timedelta(hours=hours)
        services.specimen_out(actor=lab.technician, entry=entry, out_at=out_at, at=out_at)
        return "taken out"

    assert at_once(take_out, 50, 51) == ["out_already", "taken out"]
    assert list(faults()) == []


def test_entry_struck_while_its_test_is_uploaded_never_leaves_a_test_waiting_on_it(lab):
    chamber = services.chamber_create(actor=lab.reviewer, code="C-1")
    in_at = dt.datetime(2026, 3, 2, 7, 45, tzinfo=dt.UTC)
    entry = services.specimen_in(actor=lab.technician, chamber=chamber, specimen=NEW, in_at=in_at, at=in_at)
    data = bench_bytes(curve_rows([(5.08, 5.88), (5.1, 5.9), (5.12, 5.92)]))

    def act(what):
        if what == "strike":
            services.conditioning_strike(actor=lab.reviewer, entry=entry, reason="it was F2-02")
        else:
            services.upload_store(actor=lab.technician, name="a.csv", data=data)
        return what

    assert at_once(act, "strike", "upload") == ["strike", "upload"]
    test = BenchTest.objects.get()
    logged = LoggedConditioning.objects.filter(test=test).exists()
    # Whoever was first: the upload's test was held by the strike, or rests on the file's claim alone.
    assert (test.state, logged) in (("held", True), ("accepted", False))
    assert list(faults()) == []


def test_rig_cleared_while_a_check_is_uploaded_is_handled_one_after_the_other(lab):
    rig = Rig.objects.get(code="rig-1")
    services.rig_stop(actor=lab.reviewer, rig=rig, reason="a loose clamp")
    data = bench_bytes(curve_rows([(5.08, 5.88), (5.1, 5.9), (5.12, 5.92)]))

    def act(what):
        if what == "clear":
            services.rig_clear(actor=lab.reviewer, rig=rig, reason="clamp tightened")
        else:
            services.upload_store(actor=lab.technician, name="a.csv", data=data)
        return what

    assert at_once(act, "clear", "upload") == ["clear", "upload"]
    rig.refresh_from_db()
    assert (rig.is_stopped, BenchTest.objects.get().state) == (False, "accepted")
    assert list(faults()) == []
