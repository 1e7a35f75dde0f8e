"""Climate logs: imported all or nothing, excursions hold tests, later ones put approved tests in doubt."""

from __future__ import annotations

import pytest

from catalogue.models import ScoreCard
from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from labtests import services
from labtests.models import BenchTest, ClimateLog, State
from labtests.selectors.bench.conditioning_doubts import conditioning_doubts, doubted_approvals
from labtests.services import ClimateGiven
from tests.labtests.services.bench.test_conditioning_log import HOUR, TEST_AT, put_in
from tests.shared import shared


@shared
def chamber(lab):
    return services.chamber_create(actor=lab.reviewer, code="C-1")


@shared
def entry(lab, chamber):
    return put_in(lab, chamber)


def logger(*, warm_at_h=None, warm_c=26.5, begin_h=60, end_h=0, every_h=0.5):
    """A logger's file from so many hours before the test; warm for one reading where asked."""
    count = int((begin_h - end_h) / every_h) + 1
    lines = ["time;temperature [degC];humidity [%]"]
    for number in range(count):
        before_h = begin_h - number * every_h
        value = warm_c if before_h == warm_at_h else 23.0
        lines.append(f"{(TEST_AT - before_h * HOUR).isoformat()};{value:.1f};50.0")
    return "\n".join(lines).encode()


def given(chamber, data, **more):
    return ClimateGiven(chamber, "logger.csv", data, **more)


def bring(lab, chamber, data, **more):
    return services.climate_import(actor=lab.technician, given=given(chamber, data, **more))


def codes(test):
    test.refresh_from_db()
    return [reason["code"] for reason in test.reasons]


def test_readings_are_on_record_as_they_were(lab, chamber):
    log = bring(lab, chamber, logger(warm_at_h=10.0))
    series = ClimateLog.objects.select_related("chamber").get(pk=log.pk).to_domain()
    assert (series.chamber, series.times.size, series.temperatures_c.max(), series.humidities.min()) == (
        "C-1",
        121,
        26.5,
        50.0,
    )
    assert (log.first_at, log.last_at) == (TEST_AT - 60 * HOUR, TEST_AT)
    assert entries_of(log).get().action == "labtests.climate_log.imported"
    assert list(faults()) == []


def test_same_readings_in_another_file_are_recognised(lab, chamber):
    first = bring(lab, chamber, logger())
    again = bring(lab, chamber, logger().replace(b";", b",").replace(b"[degC]", b"(C)"))
    assert (again.pk, again.is_repeat, ClimateLog.objects.count()) == (first.pk, True, 1)
    other = services.chamber_create(actor=lab.reviewer, code="C-2")
    assert not bring(lab, other, logger()).is_repeat


def test_excursion_on_record_holds_the_test_that_is_uploaded(lab, chamber, entry):
    bring(lab, chamber, logger(warm_at_h=10.0))
    test = lab.accepted()
    assert (test.state, codes(test)) == (State.HELD, ["climate_excursion"])
    assert "chamber C-1 was at 26.5 °C on 2026-03-04 at 00:15 UTC" in test.reasons[0]["message"]


@pytest.mark.parametrize("warm_at_h", [55.0, None])
def test_climate_in_range_while_the_specimen_was_in_holds_nothing(lab, chamber, entry, warm_at_h):
    bring(lab, chamber, logger(warm_at_h=warm_at_h))
    assert lab.accepted().state == State.ACCEPTED


def test_climate_of_another_chamber_holds_nothing(lab, chamber, entry):
    other = services.chamber_create(actor=lab.reviewer, code="C-2")
    bring(lab, other, logger(warm_at_h=10.0))
    assert lab.accepted().state == State.ACCEPTED


def test_log_that_comes_later_holds_what_waits(lab, chamber, entry):
    test = lab.accepted()
    preview = services.climate_preview(actor=lab.technician, given=given(chamber, logger(warm_at_h=10.0)))
    assert [one.test for one in preview.to_hold] == [test]
    assert codes(test) == []
    log = bring(lab, chamber, logger(warm_at_h=10.0))
    assert codes(test) == ["climate_excursion"]
    assert (test.state, log.touched) == (State.HELD, {"held": [test.pk], "doubted": []})
    assert list(faults()) == []


def test_log_that_comes_later_leaves_the_card_and_asks_for_a_decision(lab, chamber, entry):
    test = lab.approved()
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests")
    before = ScoreCard.objects.values().get()
    data = logger(warm_at_h=10.0)
    assert [
        one.test for one in services.climate_preview(actor=lab.technician, given=given(chamber, data)).in_doubt
    ] == [test]
    log = bring(lab, chamber, data)
    assert (codes(test), test.state) == ([], State.APPROVED)
    assert ScoreCard.objects.values().get() == before
    assert log.touched == {"held": [], "doubted": [test.pk]}
    assert [doubt.test for doubt in doubted_approvals()] == [test]
    with pytest.raises(DomainError, match=r"in doubt: chamber C-1 was at 26\.5 °C"):
        services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="again")


def test_struck_log_counts_no_more(lab, chamber, entry):
    log = bring(lab, chamber, logger(warm_at_h=10.0))
    held = lab.accepted()
    with pytest.raises(DomainError, match="Give a reason"):
        services.climate_strike(actor=lab.technician, log=log, reason=" ")
    services.climate_strike(actor=lab.technician, log=log, reason="the logger lay on a window sill")
    held.refresh_from_db()
    assert (held.state, held.reasons) == (State.ACCEPTED, [])
    with pytest.raises(DomainError, match="window sill"):
        services.climate_strike(actor=lab.technician, log=log, reason="again")
    assert not bring(lab, chamber, logger(warm_at_h=10.0)).is_repeat
    assert list(faults()) == []


def test_test_stays_held_while_another_log_shows_the_excursion(lab, chamber, entry):
    bring(lab, chamber, logger(warm_at_h=10.0))
    second = bring(lab, chamber, logger(warm_at_h=10.0, every_h=0.25))
    test = lab.accepted()
    services.climate_strike(actor=lab.technician, log=second, reason="double")
    assert codes(test) == ["climate_excursion"]


def test_bad_file_is_refused_by_line_and_column_and_nothing_is_stored(lab, chamber):
    data = logger().replace(b"23.0", b"warm", 2)
    with pytest.raises(DomainError) as caught:
        bring(lab, chamber, data)
    assert (caught.value.status, caught.value.code) == (400, "bad_climate_file")
    assert [line[:20] for line in caught.value.fields["file"]] == ["line 2, temperature:", "line 3, temperature:"]
    assert not ClimateLog.objects.exists()


@pytest.mark.parametrize(
    ("more", "code"), [({"time_zone": "Nowhere/City"}, "bad_time_zone"), ({"unit": "K"}, "bad_unit")]
)
def test_zone_and_unit_must_be_known(lab, chamber, more, code):
    with pytest.raises(DomainError) as caught:
        bring(lab, chamber, logger(), **more)
    assert caught.value.code == code


def test_file_that_is_too_large_is_refused(lab, chamber):
    with pytest.raises(DomainError) as caught:
        bring(lab, chamber, b"x" * (11 * 2**20))
    assert (caught.value.status, caught.value.code) == (413, "too_large")


def test_doubts_by_climate_take_three_queries_however_many_tests(lab, chamber, entry, django_assert_num_queries):
    lab.approved()
    bring(lab, chamber, logger(warm_at_h=10.0))
    with django_assert_num_queries(3):
        assert len(conditioning_doubts(BenchTest.objects.all())) == 1


def test_approval_is_refused_while_the_climate_speaks_against_it(lab, chamber, entry):
    test = lab.accepted()
    bring(lab, chamber, logger(warm_at_h=10.0))
    with pytest.raises(DomainError) as caught:
        services.bench_test_approve(actor=lab.reviewer, test=test, reason="")
    assert caught.value.code == "held"
