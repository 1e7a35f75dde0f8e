"""Each of the lab's two-person rules, tried by somebody who has a part in the record."""

from __future__ import annotations

import datetime as dt

import pytest

from core.domain.errors import DomainError
from core.gate.two_people import RULES
from labtests import services
from labtests.models import Specimen
from labtests.selectors.bench.incidents import Period
from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.labtests.services.bench.test_conditioning_log import put_in
from tests.labtests.services.scores.test_model_adoption import drafted as drafted_model
from tests.labtests.services.scores.test_protocol_adoption import drafted as drafted_protocol
from tests.labtests.services.studies.test_checks_alarms import MARCH, STEADY, bench_check, one_test_a_file, zipped
from tests.people import person


def uploaded(lab, actor):
    rows = curve_rows([(5.1 + d, 5.9 + d) for d in (-0.02, 0.0, 0.02)])
    return lab.upload(bench_bytes(rows, specimen="F2-01"), actor=actor).tests.get()


def review_of_own_test(lab, actor):
    services.bench_test_approve(actor=actor, test=uploaded(lab, actor), reason="")


def approval_by_own_hours(lab, actor):
    put_in(lab, services.chamber_create(actor=lab.reviewer, code="C-1"), actor=actor)
    services.bench_test_approve(actor=actor, test=lab.accepted(), reason="")


def own_test_in_an_incident(lab, actor):
    test = uploaded(lab, actor)
    services.incident_carry_out(actor=actor, incident=proposed_incident(lab, test, lab.technician))


def own_incident(lab, actor):
    services.incident_carry_out(actor=actor, incident=proposed_incident(lab, lab.accepted(), actor, effect="void"))


def proposed_incident(lab, test, actor, effect="doubt"):
    period = Period(lab.rig, "torque", test.performed_at, test.performed_at, effect)
    return services.incident_propose(actor=actor, period=period, reason="the torque cell drifted")


def signature_on_own_calibration(lab, actor):
    again = services.calibration_record(
        actor=actor,
        rig=lab.rig,
        quantity="force",
        certificate="C-2",
        calibrated_on=dt.date(2026, 1, 5),
        due_on=dt.date(2027, 1, 5),
        standard_uncertainty=0.5,
        resolution=0.1,
    )
    services.calibration_sign(actor=actor, calibration=again)


def rig_cleared_after_own_check(lab, actor):
    lab.upload(zipped(one_test_a_file(STEADY)), name="checks.zip")
    shoe = Specimen.objects.get(code="CHK-1")
    services.check_shoe_designate(actor=lab.technician, rig=lab.rig, specimen=shoe, since=MARCH, reason="daily check")
    lab.upload(bench_check(5.5, operator=actor.username), name="drifted.csv")
    services.rig_clear(actor=actor, rig=lab.rig, reason="a loose clamp, tightened")


def own_protocol(lab, actor):
    draft = drafted_protocol(lab)
    services.protocol_adopt(actor=draft.author, draft=draft, revision=draft.revision, reason="mine")


def own_model(lab, actor):
    draft = drafted_model(actor)
    services.model_adopt(actor=actor, draft=draft, revision=draft.revision, reason="mine")


CASES = {
    "labtests.test:review": review_of_own_test,
    "labtests.test:approve": approval_by_own_hours,
    "labtests.incident:decide": own_test_in_an_incident,
    "labtests.incident:void": own_incident,
    "labtests.calibration:sign": signature_on_own_calibration,
    "labtests.rig:clear": rig_cleared_after_own_check,
    "labtests.protocol:adopt": own_protocol,
    "labtests.scoring_model:adopt": own_model,
}
# Takes a study of several tests: tried in test_temperature_studies.
ELSEWHERE = {"labtests.study:adopt"}


def test_every_rule_of_the_lab_is_tried():
    known = {name for name in RULES if name.startswith("labtests.")}
    assert known == CASES.keys() | ELSEWHERE


@pytest.mark.parametrize("name", CASES)
def test_who_has_a_part_in_the_record_is_refused(name, lab):
    rule = RULES[name]
    with pytest.raises(DomainError) as refused:
        CASES[name](lab, person("both", "reviewer"))
    assert (refused.value.code, refused.value.status) == (rule.code, 403)


def test_somebody_else_may_approve_what_rests_on_the_hours(lab):
    put_in(lab, services.chamber_create(actor=lab.reviewer, code="C-1"), actor=person("both", "reviewer"))
    assert services.bench_test_approve(actor=lab.reviewer, test=lab.accepted(), reason="").reviewed_by == lab.reviewer
