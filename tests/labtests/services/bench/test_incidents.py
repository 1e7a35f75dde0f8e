"""Incidents: seen before anything happens, then carried out together or not at all."""

from __future__ import annotations

import datetime as dt

import pytest

from catalogue.models import IncidentNotice, NoticeCard, ScoreCard
from catalogue.services import print_run_record
from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from labtests import services
from labtests.models import BenchTest, Incident
from labtests.selectors.bench import incidents as found
from labtests.selectors.bench.incidents import Period, touched_with
from labtests.selectors.bench.incidents import touched_by as effect_of
from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.people import person
from tests.shared import shared

FROM = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
TO = dt.datetime(2026, 3, 5, tzinfo=dt.UTC)


@shared
def published(lab):
    """Two approved tests, published, on a wall card."""
    tests = [lab.approved(specimen="F2-01", torque_15=5.0), lab.approved(specimen="F2-02", torque_15=5.6)]
    return tests, services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="both agree")


@pytest.fixture
def period(lab):
    def make(**change):
        given = {"rig": lab.rig, "quantity": "torque", "begins_at": FROM, "ends_at": TO, "effect": "doubt"}
        return Period(**(given | change))

    return make


def states():
    return sorted(BenchTest.objects.values_list("state", flat=True))


def test_preview_names_everything_and_changes_nothing(lab, cast, published, period):
    tests, card = published
    print_run_record(actor=cast.manager_a, store=cast.store_a, shoes=[lab.shoe.pk], paper="a4", cards_per_sheet=4)
    touched = services.incident_preview(actor=lab.technician, period=period())
    assert [test.pk for test in touched.tests] == [test.pk for test in tests]
    assert [shoe.now.slug for shoe in touched.withdrawn] == [lab.shoe.slug]
    assert touched.score_cards == (card.pk,)
    assert [(each.store, each.shoe) for each in touched.wall_cards] == [("store-a", lab.shoe.slug)]
    assert [store.slug for store in touched.stores] == ["store-a"]
    assert (states(), Incident.objects.count(), card.is_current) == (["approved", "approved"], 0, True)


def test_withdrawn_wall_cards_are_not_touched(lab, cast, published, period):
    from catalogue.services import print_run_withdraw

    run = print_run_record(actor=cast.manager_a, store=cast.store_a, shoes=[lab.shoe.pk], paper="a4", cards_per_sheet=4)
    print_run_withdraw(actor=cast.manager_a, run=run)
    touched = effect_of(period())
    assert (touched.wall_cards, touched.stores) == ((), ())


def test_tests_in_doubt_are_held_until_a_reviewer_decides(lab, published, period):
    _, card = published
    incident = lab.incident(period())
    assert states() == ["held", "held"]
    test = BenchTest.objects.first()
    assert test.is_in_doubt
    assert test.reasons == [{"code": "incident", "message": f"Incident {incident.pk} of rig-1: torque cell drifted"}]
    card.refresh_from_db()
    assert (card.is_current, card.withdrawn_because) == (False, "torque cell drifted")
    with pytest.raises(DomainError, match="Clear the doubt with a reason, or void it"):
        services.bench_test_approve(actor=lab.reviewer, test=test, reason="")
    cleared = services.bench_test_clear_doubt(actor=lab.reviewer, test=test, reason="checked against a weight")
    assert (cleared.state, cleared.reasons) == ("accepted", [])
    services.bench_test_approve(actor=lab.reviewer, test=test, reason="")
    back = services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="checked")
    assert back.specimens == 1
    assert list(faults()) == []


def test_doubt_cleared_leaves_what_else_held_the_test(lab, period):
    warm = lab.upload(bench_bytes(curve_rows([(5.1, 5.9)] * 3), temperature="30 degC")).tests.get()
    lab.incident(period())
    cleared = services.bench_test_clear_doubt(actor=lab.reviewer, test=warm, reason="checked")
    assert cleared.state == "held"
    assert [entry["code"] for entry in cleared.reasons] == [entry["code"] for entry in warm.reasons]


def test_only_a_test_in_doubt_can_be_cleared(lab):
    with pytest.raises(DomainError, match="is not in doubt"):
        services.bench_test_clear_doubt(actor=lab.reviewer, test=lab.accepted(), reason="checked")


def test_void_incident_informs_the_stores_of_every_card_that_rested_on_it(lab, published, period):
    _, first = published
    second = services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="again")
    lab.incident(period(effect="void"))
    assert states() == ["void", "void"]
    assert set(NoticeCard.objects.values_list("score_card", flat=True)) == {first.pk, second.pk}
    assert {test["state"] for test in Incident.objects.get().touched["tests"]["results"]} == {"approved"}
    assert IncidentNotice.objects.get().reason == "torque cell drifted"
    assert list(faults()) == []


def test_shoe_with_other_tests_keeps_a_card_from_those(lab, published, period):
    _, card = published
    (change,) = touched_with(effect_of(period()).tests[:1]).shoes
    assert change.then is not None
    assert change.then.specimens == 1
    assert ScoreCard.objects.get(is_current=True) == card


def test_quantity_chooses_the_tests_with_such_a_reading(lab, period):
    torsion = lab.accepted(specimen="F2-01")
    BenchTest.objects.filter(pk=torsion.pk).update(torque_15_nm=None)
    assert not found.tests_touched(period(quantity="torque")).exists()
    assert not found.tests_touched(period(quantity="angle")).exists()
    assert found.tests_touched(period(quantity="displacement")).get() == torsion
    assert found.tests_touched(period(quantity="temperature")).get() == torsion


def test_both_ends_of_the_period_belong_to_it(lab, period):
    test = lab.accepted()
    at = test.performed_at
    tick = dt.timedelta(microseconds=1)
    assert found.tests_touched(period(begins_at=at, ends_at=at)).get() == test
    assert not found.tests_touched(period(begins_at=at + tick)).exists()
    assert not found.tests_touched(period(ends_at=at - tick)).exists()


def test_second_reviewer_of_a_proposal_is_informed(lab, published, period):
    incident = services.incident_propose(actor=lab.technician, period=period(), reason="torque cell drifted")
    assert states() == ["approved", "approved"]
    services.incident_carry_out(actor=lab.reviewer, incident=incident)
    other = person("second-reviewer", "reviewer")
    for again in (
        lambda: services.incident_carry_out(actor=other, incident=incident),
        lambda: services.incident_dismiss(actor=other, incident=incident, reason="was fine"),
    ):
        with pytest.raises(DomainError, match="already carried out by reviewer") as caught:
            again()
        assert (caught.value.status, caught.value.code) == (409, "already_decided")
    assert [entry.action for entry in entries_of(incident)] == [
        "labtests.incident.carried_out",
        "labtests.incident.proposed",
    ]


def test_second_incident_of_the_same_time_finds_nothing_left(lab, published, period):
    for effect in ("doubt", "void"):
        lab.incident(period(effect=effect))
        with pytest.raises(DomainError, match="nothing to take back") as caught:
            lab.incident(period(effect=effect), reason="the same again")
        assert caught.value.status == 409
    assert Incident.objects.count() == 2


def test_dismissed_incident_changes_nothing_and_stays_on_record(lab, published, period):
    incident = services.incident_propose(actor=lab.technician, period=period(), reason="torque cell drifted")
    services.incident_dismiss(actor=lab.reviewer, incident=incident, reason="weight was right")
    incident.refresh_from_db()
    assert (incident.state, incident.decided_because) == ("dismissed", "weight was right")
    assert states() == ["approved", "approved"]
    assert list(faults()) == []


def test_technician_proposes_but_does_not_carry_out(lab, published, period):
    incident = services.incident_propose(actor=lab.technician, period=period(), reason="torque cell drifted")
    for attempt in (
        lambda: services.incident_carry_out(actor=lab.technician, incident=incident),
        lambda: services.incident_dismiss(actor=lab.technician, incident=incident, reason="x"),
    ):
        with pytest.raises(DomainError) as caught:
            attempt()
        assert caught.value.code == "permission_denied"


def test_reviewer_does_not_take_back_own_tests(lab, period):
    test = lab.upload(bench_bytes(), actor=lab.reviewer).tests.get()
    incident = services.incident_propose(actor=lab.technician, period=period(), reason="torque cell drifted")
    for attempt in (
        lambda: services.incident_carry_out(actor=lab.reviewer, incident=incident),
        # Dismissed, the reviewer's own test would go on counting.
        lambda: services.incident_dismiss(actor=lab.reviewer, incident=incident, reason="was fine"),
    ):
        with pytest.raises(DomainError, match=rf"some of the tests \({test.pk}\)") as caught:
            attempt()
        assert (caught.value.status, caught.value.code) == (403, "own_test")
    assert (states(), Incident.objects.get().state) == (["accepted"], "proposed")
    assert found.who_may_carry_out(incident, [test]) == []


def test_who_proposed_it_withdraws_it_and_nobody_else_does(lab, published, period):
    given = period(effect="void")
    incident = services.incident_propose(actor=lab.reviewer, period=given, reason="torque cell drifted")
    other = person("second-reviewer", "reviewer")
    assert found.who_may_carry_out(incident, published[0]) == [other]
    with pytest.raises(DomainError, match="Another reviewer carries it out") as twice:
        services.incident_propose(actor=lab.technician, period=given, reason="the same again")
    assert (twice.value.status, twice.value.code) == (409, "already_proposed")
    with pytest.raises(DomainError, match="Only who proposed it withdraws it") as not_own:
        services.incident_withdraw(actor=other, incident=incident, reason="x")
    assert (not_own.value.status, not_own.value.code) == (403, "not_own_proposal")
    services.incident_withdraw(actor=lab.reviewer, incident=incident, reason="weight was right")
    incident.refresh_from_db()
    assert (incident.state, incident.is_withdrawn, states()) == ("dismissed", True, ["approved", "approved"])
    assert entries_of(incident).first().action == "labtests.incident.withdrawn"
    with pytest.raises(DomainError, match="already dismissed"):
        services.incident_carry_out(actor=other, incident=incident)
    assert list(faults()) == []


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"begins_at": TO, "ends_at": FROM}, "to"),
        (
            {"begins_at": dt.datetime(2031, 1, 1, tzinfo=dt.UTC), "ends_at": dt.datetime(2032, 1, 1, tzinfo=dt.UTC)},
            "from",
        ),
    ],
)
def test_period_that_cannot_be_is_refused(lab, period, change, field):
    with pytest.raises(DomainError) as caught:
        services.incident_propose(actor=lab.technician, period=period(**change), reason="x")
    assert (caught.value.code, [*caught.value.fields]) == ("bad_period", [field])


def test_incident_needs_a_reason_and_a_test(lab, period):
    with pytest.raises(DomainError, match="Give a reason"):
        services.incident_propose(actor=lab.technician, period=period(), reason=" ")
    with pytest.raises(DomainError, match="nothing to take back"):
        services.incident_propose(actor=lab.technician, period=period(), reason="x")


def test_failure_undoes_everything(lab, published, period, monkeypatch):
    from labtests.services.bench import incidents

    _, card = published
    monkeypatch.setattr(incidents, "incident_notice_send", lambda **_: 1 / 0)
    incident = services.incident_propose(actor=lab.technician, period=period(), reason="torque cell drifted")
    with pytest.raises(ZeroDivisionError):
        services.incident_carry_out(actor=lab.reviewer, incident=incident)
    card.refresh_from_db()
    assert (states(), card.is_current, Incident.objects.get().state) == (["approved", "approved"], True, "proposed")


def test_many_tests_cost_no_more_queries(lab, period, django_assert_max_num_queries):
    for number in range(3):
        lab.approved(specimen=f"F2-{number:02d}")
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="agree")
    with django_assert_max_num_queries(24):
        services.incident_preview(actor=lab.technician, period=period())
    incident = services.incident_propose(actor=lab.technician, period=period(), reason="torque cell drifted")
    with django_assert_max_num_queries(92):
        services.incident_carry_out(actor=lab.reviewer, incident=incident)


def test_check_shoe_leaves_its_chart(lab, period):
    check = lab.accepted(specimen="CHK-1")
    services.check_shoe_designate(
        actor=lab.technician, rig=lab.rig, specimen=check.specimen, since=dt.date(2026, 3, 1), reason="daily"
    )
    lab.incident(period())
    from labtests.models import CheckDuty
    from labtests.selectors.studies.check_shoes import check_tests

    assert not check_tests(CheckDuty.objects.get()).exists()
