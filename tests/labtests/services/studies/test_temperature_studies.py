"""Temperature studies: planned, tested, proposed and adopted by two people; then they are in every budget."""

from __future__ import annotations

import datetime as dt

import pytest

from core.audit.verification import faults
from core.domain.errors import DomainError
from labtests import services
from labtests.models import State, TemperatureState, TemperatureStudy
from labtests.selectors.studies.temperature import temperature_progress
from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.shared import shared

pytestmark = pytest.mark.django_db
WHY = "first study of the season"
CELSIUS = (19.0, 21.0, 22.5, 24.0, 26.0)


def planned(lab, **given):
    plan = {"title": "Foam in winter", "specimen": "F2-01", "begins_on": dt.date(2026, 3, 2), "reason": WHY}
    return services.temperature_study_plan(actor=lab.technician, rig=lab.rig, **(plan | given))


def tested(lab):
    """The specimen at five temperatures, softer by 0.6 % a kelvin, with a little scatter."""
    for day, celsius in enumerate(CELSIUS, start=3):
        change = 1.0 - 0.006 * (celsius - 23.0) + 0.0005 * (-1) ** day
        rows = curve_rows([(5.1 * change, 5.9 / change)])
        when = f"2026-03-0{day}T09:00:00+00:00" if day < 6 else f"2026-03-05T1{day}:00:00+00:00"
        lab.upload(bench_bytes(rows, temperature=f"{celsius} degC", performed=when), name=f"{celsius}.csv")


@shared
def proposed(lab):
    lab.accepted(performed="2026-03-01T09:00:00+00:00")
    study = planned(lab)
    tested(lab)
    return services.temperature_study_propose(actor=lab.technician, study=study, reason="five temperatures")


def sources(test):
    budgets = test.results.get().budget_tables
    return {row.source: row for row in budgets["stability"].rows if row.source.startswith("midsole")}


def test_held_tests_of_other_temperatures_count_and_earlier_ones_do_not(lab, proposed):
    progress = temperature_progress(proposed)
    assert [test.temperature_c for test in progress.tests] == list(CELSIUS)
    assert proposed.specimen.tests.filter(state=State.HELD).count() == 2
    figures = proposed.figures
    assert figures["torque"]["percent_k"] == pytest.approx(-0.6, abs=0.03)
    assert figures["deflection"]["percent_k"] == pytest.approx(0.6, abs=0.03)
    assert figures["torque"]["low"] < -0.6 < figures["torque"]["high"]
    assert (figures["work"]["n"], figures["work"]["from_c"], figures["work"]["to_c"]) == (5, 19.0, 26.0)


def test_budgets_take_the_bound_until_a_study_is_adopted(lab, proposed):
    later = {"performed": "2026-03-05T20:00:00+00:00", "temperature": "24.8 degC"}
    before = sources(lab.accepted(specimen="F2-02", **later))
    assert list(before) == ["midsole temperature, upper bound from the literature"]
    services.temperature_study_adopt(actor=lab.reviewer, study=proposed, reason="agrees with the data sheet")
    after = sources(lab.accepted(specimen="F2-03", **later))
    assert list(after) == [f"midsole temperature, measured in study {proposed.pk}"]
    one, other = next(iter(before.values())), next(iter(after.values()))
    assert one.u == other.u
    # Warm midsoles lose torque and gain deflection: both lower the stability, and here by less than the bound.
    assert one.sensitivity < other.sensitivity < 0.0
    assert not list(faults())


def test_two_people_and_one_study_in_use(lab, proposed, cast):
    with pytest.raises(DomainError) as refused:
        services.temperature_study_adopt(actor=lab.technician, study=proposed, reason="mine")
    assert refused.value.status == 403
    services.temperature_study_adopt(actor=lab.reviewer, study=proposed, reason="agreed")
    second = planned(lab, title="Foam in spring")
    second = services.temperature_study_propose(actor=lab.reviewer, study=second, reason="the same tests")
    with pytest.raises(DomainError, match="Somebody else has to adopt") as refused:
        services.temperature_study_adopt(actor=lab.reviewer, study=second, reason="mine")
    assert refused.value.code == "own_proposal"
    assert TemperatureStudy.objects.get(state=TemperatureState.ADOPTED).pk == proposed.pk


def test_study_without_its_tests_is_not_proposed(lab):
    lab.accepted()
    study = planned(lab)
    with pytest.raises(DomainError, match="not complete") as refused:
        services.temperature_study_propose(actor=lab.technician, study=study, reason="in a hurry")
    assert (refused.value.code, refused.value.status) == ("incomplete", 409)
    study = services.temperature_study_discard(actor=lab.technician, study=study, reason="no chamber")
    assert study.state == TemperatureState.DISCARDED
    with pytest.raises(DomainError, match="can no longer be done"):
        services.temperature_study_discard(actor=lab.technician, study=study, reason="again")


def test_unknown_specimen_is_named(lab):
    with pytest.raises(DomainError) as refused:
        planned(lab, specimen="F9-99")
    assert refused.value.fields == {"specimen": ["there is no specimen “F9-99”"]}
