"""Left against right, specimen against specimen: the difference, its uncertainty, and what that means in words."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from labtests import services
from labtests.models import Calibration
from labtests.selectors import comparing
from tests.labtests.bench_text import bench_bytes, curve_rows, readings_bytes

ADDRESS = "/lab/shoes/fenrunner-2/compare/"


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


def text_of(response):
    return " ".join(response.content.decode().split())


def measured(lab, specimen, side="left", torque=5.1, **header):
    rows = curve_rows([(torque + d, 5.9 + d) for d in (-0.02, 0.0, 0.02)])
    return lab.upload(bench_bytes(rows, specimen=specimen, side=side, **header), name=f"{specimen}.csv").tests.get()


def compared(lab):
    found = comparing.comparable_tests(lab.shoe)
    return comparing.compare(*comparing.first_choice(found))


def test_left_is_set_against_right(technician, lab):
    measured(lab, "F2-00", "left", performed="2026-03-03T10:15:00+00:00")
    left, right = measured(lab, "F2-01", "left"), measured(lab, "F2-02", "right", torque=6.1)
    comparison = compared(lab)
    assert (comparison.first.test, comparison.second.test) == (left, right)
    text = text_of(technician.get(ADDRESS))
    assert "The right scores higher in stability by" in text
    assert "more than the uncertainty of the difference explains" in text
    assert "beyond the uncertainty" in text
    # Three repeats of two tests, loading branches of both kinds.
    assert text.count("<polyline") == 12
    assert text.count('class="curve--b"') == 6


def test_small_difference_is_no_difference(technician, lab):
    measured(lab, "F2-01", "left")
    measured(lab, "F2-02", "right", torque=5.101)
    text = text_of(technician.get(ADDRESS))
    assert "No difference between them is shown." in text
    assert "within the uncertainty" in text


def test_errors_of_the_same_calibration_largely_cancel(lab):
    measured(lab, "F2-01", "left")
    measured(lab, "F2-02", "right")
    same = compared(lab)
    assert len(same.shared) == 5
    first, second = same.first.result, same.second.result
    assert same.scores["midfoot"].u < (first.midfoot_u**2 + second.midfoot_u**2) ** 0.5
    # What is left of equal tests is their repeats and the resolution, and nothing of the calibrations.
    own = [row for row in first.budget_tables["midfoot"].rows if not row.source.endswith("calibration")]
    expected = (2 * sum(row.contribution**2 for row in own)) ** 0.5
    assert same.scores["midfoot"].u == pytest.approx(expected, rel=1e-6)


def test_another_certificate_in_between_shares_nothing(lab):
    for old in Calibration.objects.all():
        calibration = services.calibration_record(
            actor=lab.technician,
            rig=lab.rig,
            quantity=old.quantity,
            certificate="new",
            calibrated_on=dt.date(2026, 3, 4),
            due_on=dt.date(2027, 3, 4),
            standard_uncertainty=old.standard_uncertainty,
            resolution=old.resolution,
        )
        services.calibration_sign(actor=lab.reviewer, calibration=calibration)
    measured(lab, "F2-01", "left", performed="2026-03-03T10:15:00+00:00")
    measured(lab, "F2-02", "right")
    apart = compared(lab)
    assert apart.shared == ()
    first, second = apart.first.result, apart.second.result
    assert apart.scores["stability"].u == pytest.approx((first.stability_u**2 + second.stability_u**2) ** 0.5)


def test_another_rig_shares_nothing(technician, lab):
    other = services.rig_create(actor=lab.reviewer, code="rig-2")
    for old in Calibration.objects.filter(rig=lab.rig):
        Calibration.objects.create(
            rig=other,
            **{
                name: getattr(old, name)
                for name in ("quantity", "certificate", "calibrated_on", "due_on", "standard_uncertainty", "resolution")
            },
        )
    measured(lab, "F2-01", "left")
    measured(lab, "F2-02", "right", rig="rig-2")
    assert compared(lab).shared == ()
    assert "depend on different calibrations" in text_of(technician.get(ADDRESS))


def test_reading_s_uncertainty_is_the_score_s_on_its_scale(lab):
    measured(lab, "F2-01", "left")
    measured(lab, "F2-02", "right", torque=5.3)
    comparison = compared(lab)
    torque, midfoot = comparison.readings["torque_15_nm"], comparison.scores["midfoot"]
    assert torque.value == pytest.approx(0.2)
    assert torque.u / abs(torque.value) == pytest.approx(midfoot.u / abs(midfoot.value))
    assert torque.is_beyond == midfoot.is_beyond


def test_two_of_one_side_are_set_against_each_other(technician, lab):
    measured(lab, "F2-01", "left")
    measured(lab, "F2-03", "left", torque=5.5)
    text = text_of(technician.get(ADDRESS))
    assert "F2-03" in text
    assert "scores higher in stability" in text


def test_two_tests_of_one_specimen_are_named_by_number(technician, lab):
    first = measured(lab, "F2-01", worn="0 km")
    second = measured(lab, "F2-01", worn="200 km", torque=4.0)
    text = text_of(technician.get(ADDRESS))
    assert f"test {first.pk}" in text
    assert f"test {second.pk}" in text
    assert "worn 200 km" in text


def test_any_two_tests_may_be_chosen(technician, lab):
    one, two = measured(lab, "F2-01"), measured(lab, "F2-02", "right")
    three = measured(lab, "F2-03", "left", torque=5.0)
    response = technician.get(ADDRESS, {"first": three.pk, "second": two.pk})
    assert response.context["names"] == ("left", "right")
    assert response.context["comparison"].first.test == three
    same = technician.get(ADDRESS, {"first": one.pk, "second": one.pk})
    assert same.status_code == 400
    assert "That is the same test" in text_of(same)


@pytest.mark.parametrize("query", [{"first": "x"}, {"first": "999999", "second": "1"}, {"second": "\x00"}])
def test_choice_that_is_not_there_is_explained(technician, lab, query):
    measured(lab, "F2-01")
    measured(lab, "F2-02", "right")
    response = technician.get(ADDRESS, query)
    assert response.status_code == 400
    assert "These can’t be compared" in text_of(response)


def test_unknown_uncertainty_is_said(technician, lab):
    lab.upload(readings_bytes())
    rows = readings_bytes().decode().replace("F2-01", "F2-02").replace(",left,", ",right,")
    lab.upload(rows.encode())
    text = text_of(technician.get(ADDRESS))
    assert "cannot be said" in text
    assert "there are no curves" in text


@pytest.mark.parametrize("count", [0, 1])
def test_less_than_two_tests_is_said(technician, lab, count):
    if count:
        measured(lab, "F2-01")
    assert "There is nothing to compare yet" in text_of(technician.get(ADDRESS))


def test_void_tests_are_left_out(technician, lab):
    measured(lab, "F2-01")
    services.bench_test_void(actor=lab.reviewer, test=measured(lab, "F2-02", "right"), reason="slipped")
    assert "There is nothing to compare yet" in text_of(technician.get(ADDRESS))


def test_imperial_reader_sees_imperial_units(technician, lab):
    measured(lab, "F2-01")
    measured(lab, "F2-02", "right")
    technician.cookies["units"] = "imperial"
    text = text_of(technician.get(ADDRESS)).replace("\xa0", " ")
    assert "45.139 in·lbf" in text
    assert ">100 lbf</text>" in text


def test_pages_of_the_shoe_and_the_test_lead_here(technician, lab):
    test = measured(lab, "F2-01")
    for name, args in (("shoe-detail", ["fenrunner-2"]), ("test-detail", [test.pk])):
        assert ADDRESS in technician.get(reverse(f"labtests:{name}", args=args)).content.decode()


def test_page_takes_few_queries_however_many_tests(technician, lab, django_assert_max_num_queries):
    for number in range(6):
        measured(lab, f"F2-{number}", ("left", "right")[number % 2])
    with django_assert_max_num_queries(13):
        assert technician.get(ADDRESS).status_code == 200


def test_curves_are_marked_where_they_are_read(technician, lab):
    test = measured(lab, "F2-01")
    page = text_of(technician.get(reverse("labtests:test-detail", args=[test.pk])))
    assert ">15°</text>" in page
    assert ">444.8 N</text>" in page
    figures = technician.get(reverse("labtests:test-curves", args=[test.pk])).context["figure"]
    assert figures["torsion"]["marks"] == [{"axis": "x", "at": 15.0, "label": "15°"}]
    assert figures["compression"]["marks"][0]["label"] == "444.8 N"


def test_both_directions_are_marked_both_ways(technician, lab):
    rows = curve_rows([(5.1, 5.9)] * 3)
    rows += [
        f"torsion,{repeat},loading,{-angle},{-5.1 * angle / 15!r}" for repeat in (1, 2, 3) for angle in (5, 10, 15)
    ]
    test = lab.upload(bench_bytes(rows)).tests.get()
    marks = technician.get(reverse("labtests:test-curves", args=[test.pk])).context["figure"]["torsion"]["marks"]
    assert [mark["at"] for mark in marks] == [15.0, -15.0]


def test_api_says_the_same(lab, api_for):
    client, address = api_for(lab.technician), "/api/lab/shoes/fenrunner-2/compare/"
    assert client.get(address).status_code == 409
    left, right = measured(lab, "F2-01", "left"), measured(lab, "F2-02", "right", torque=6.1)
    body = client.get(address).json()
    assert (body["first"]["test"], body["second"]["side"]) == (left.pk, "right")
    assert body["scores"]["midfoot"]["beyond"] is True
    assert body["readings"]["torque_15_nm"]["difference"] == pytest.approx(1.0)
    assert "torque, calibration" in body["shared"]
    turned = client.get(address, {"first": right.pk, "second": left.pk}).json()
    assert turned["scores"]["midfoot"]["difference"] == pytest.approx(-body["scores"]["midfoot"]["difference"])
    for query in ({"first": left.pk}, {"first": left.pk, "second": left.pk}, {"second": "\x00"}):
        assert client.get(address, query).status_code == 400
    assert client.get("/api/lab/shoes/no-such/compare/").status_code == 404
