"""Curves reach the public with the publication of a shoe, and leave it with the tests that they are of."""

from __future__ import annotations

import pytest
from django.core.management import call_command

from catalogue.models import CurveKind, ScoreCurve
from catalogue.selectors import revision
from labtests import services
from tests.labtests.bench_text import readings_bytes


def publish(lab):
    return services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests")


def test_two_specimens_are_averaged_up_to_what_is_scored(lab):
    tests = [lab.approved(specimen="F2-01", torque_15=5.0), lab.approved(specimen="F2-02", torque_15=6.0)]
    publish(lab)
    twist = ScoreCurve.objects.get(shoe=lab.shoe, kind=CurveKind.TORSION)
    assert (twist.at[0], twist.at[-1], len(twist.at)) == (0.0, 15.0, 16)
    assert twist.mean[-1] == pytest.approx(sum(test.torque_15_nm for test in tests) / 2, rel=1e-3)
    assert (twist.low[-1], twist.high[-1]) == (
        pytest.approx(tests[0].torque_15_nm, rel=0.01),
        pytest.approx(tests[1].torque_15_nm, rel=0.01),
    )
    heel = ScoreCurve.objects.get(shoe=lab.shoe, kind=CurveKind.COMPRESSION)
    assert (heel.mean[0], heel.at[-1]) == (0.0, 444.8)
    assert heel.mean[-1] == pytest.approx(sum(test.deflection_mm for test in tests) / 2, rel=1e-3)
    assert (heel.specimens, heel.recordings) == (2, tests[0].readings.count() + tests[1].readings.count())


def test_readings_alone_have_no_curve(lab):
    (test,) = lab.upload(readings_bytes(), name="readings.csv").tests.all()
    services.bench_test_approve(actor=lab.reviewer, test=test, reason="")
    publish(lab)
    assert not ScoreCurve.objects.exists()


def test_void_test_takes_its_curve_along(lab):
    lab.approved(specimen="F2-01", torque_15=5.0)
    wrong = lab.approved(specimen="F2-02", torque_15=6.0)
    publish(lab)
    services.bench_test_void(actor=lab.reviewer, test=wrong, reason="a slipped clamp")
    twist = ScoreCurve.objects.get(kind=CurveKind.TORSION)
    assert (twist.specimens, twist.mean[-1]) == (1, pytest.approx(5.0, rel=0.01))


def test_shoe_with_a_test_approved_since_gets_no_curves_of_more_tests_than_its_scores(lab):
    lab.approved(specimen="F2-01", torque_15=5.0)
    publish(lab)
    ScoreCurve.objects.all().delete()
    lab.approved(specimen="F2-02", torque_15=6.0)
    call_command("publish_curves", verbosity=0)
    assert not ScoreCurve.objects.exists()
    publish(lab)
    assert set(ScoreCurve.objects.values_list("specimens", flat=True)) == {2}


def test_shoes_published_before_get_their_curves_by_a_command(lab):
    lab.approved()
    publish(lab)
    made = {curve.kind: curve.mean for curve in ScoreCurve.objects.all()}
    ScoreCurve.objects.all().delete()
    before = revision().whole
    call_command("publish_curves", verbosity=0)
    assert {curve.kind: curve.mean for curve in ScoreCurve.objects.all()} == made
    assert revision().whole != before, "pages that readers have stored are out of date"
