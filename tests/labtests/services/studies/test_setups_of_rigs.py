"""Days and set-ups of a rig, from its check shoe and its gauge studies, in the budgets of the tests that follow."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from labtests import services
from labtests.domain.scores.scoring import S1
from labtests.models import Specimen
from labtests.selectors.scores.setups import setups_of_rigs
from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.shared import shared

TORQUES = (5.10, 5.16, 5.05, 5.11, 5.02, 5.14, 5.09)


def at(day, hour=9):
    return f"2026-02-{day:02d}T{hour:02d}:00:00+00:00"


def upload(lab, torque, *, specimen, performed, **header):
    rows = curve_rows([(torque + d, 5.9 + d) for d in (-0.01, 0.0, 0.01)])
    return lab.upload(bench_bytes(rows, specimen=specimen, performed=performed, **header)).tests.get()


@shared
def checked(lab):
    """The lab with a check shoe tested on seven days."""
    upload(lab, 5.1, specimen="CHK-1", performed=at(1))
    check = Specimen.objects.get(code="CHK-1")
    services.check_shoe_designate(
        actor=lab.technician, rig=lab.rig, specimen=check, since=dt.date(2026, 2, 2), reason="for every day"
    )
    for day, torque in enumerate(TORQUES, start=2):
        upload(lab, torque, specimen="CHK-1", performed=at(day))
    return lab


def test_check_shoe_gives_day_and_set_up_to_the_tests_that_follow(checked, client):
    test = upload(checked, 5.4, specimen="F2-07", performed=at(20))
    (found,) = setups_of_rigs([checked.rig.pk], S1)[checked.rig.pk]
    mean = sum(TORQUES) / len(TORQUES)
    variance = sum((torque - mean) ** 2 for torque in TORQUES) / (len(TORQUES) - 1)
    # Less what three repeats with s = 0.01 leave in a mean.
    assert found.torque_nm2 == pytest.approx(variance - 0.01**2 / 3, rel=1e-3)
    result = test.results.get()
    setup2 = result.midfoot_u**2 - result.midfoot_u_a**2 - result.midfoot_u_b**2
    assert setup2 == pytest.approx((100 / 9.038783) ** 2 * found.torque_nm2, rel=1e-6)
    assert result.setup_df == pytest.approx(found.df)
    client.force_login(checked.technician)
    page = client.get(reverse("labtests:test-detail", args=[test.pk])).content.decode()
    assert "day and set-up, check shoe" in page
    assert reverse("labtests:check-detail", args=[checked.rig.code]) in page


def test_a_rig_without_checks_has_no_such_row(lab):
    result = lab.accepted().results.get()
    assert result.setup_df is None
    assert {row.source for row in result.budget_tables["stability"].rows if row.type_ == "A"} == {"repeats"}


def test_a_gauge_study_gives_operator_and_set_up(lab):
    for code in ("G-1", "G-2", "G-3"):
        upload(lab, 5.0, specimen=code, performed=at(1))
    people = [lab.technician.username, lab.reviewer.username]
    services.gauge_study_plan(
        actor=lab.technician,
        title="Spring",
        rig=lab.rig,
        specimens=["G-1", "G-2", "G-3"],
        operators=people,
        trials=2,
        begins_on=dt.date(2026, 2, 2),
        reason="to know the bench",
    )
    assert setups_of_rigs([lab.rig.pk], S1)[lab.rig.pk] == ()
    offsets = iter([0.0, 0.04, 0.06, 0.09, -0.03, 0.02, 0.05, 0.11, 0.01, -0.02, 0.08, 0.04])
    for place, code in enumerate(("G-1", "G-2", "G-3")):
        for person in people:
            for trial in (1, 2):
                moment = at(3 + place, 8 + trial + (3 if person == people[1] else 0))
                torque = 4.9 + 0.2 * place + next(offsets)
                upload(lab, torque, specimen=code, performed=moment, operator=person)
    (found,) = setups_of_rigs([lab.rig.pk], S1)[lab.rig.pk]
    assert (found.origin, found.link.partition(":")[0]) == ("set-up and operator, gauge study", "gauge_study")
    assert 0.02**2 < found.torque_nm2 < 0.1**2
