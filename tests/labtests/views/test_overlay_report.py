"""Curves of any tests over each other, and the report of one."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET

import pytest
from django.urls import reverse

from catalogue import services as catalogue
from catalogue.models import Brand
from labtests import services
from tests.labtests.bench_text import bench_bytes, curve_rows, readings_bytes
from tests.shared import shared


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@shared
def two_shoes(lab):
    """A test of 5.1 N·m, and one of another shoe and another season that reads 1 N·m more at 15°."""
    other = catalogue.shoe_create(actor=None, slug="mooring", brand=Brand.objects.get(), name="Mooring")
    rows = curve_rows([(6.1, 5.9), (6.12, 5.92), (6.08, 5.88)])
    data = bench_bytes(rows, specimen="M-1", shoe=other.slug, performed="2025-09-01T08:00:00+00:00")
    return [lab.accepted(specimen="F2-01"), lab.upload(data, name="m.csv").tests.get()]


def get(client, name, *args, **query):
    return client.get(reverse(f"labtests:{name}", args=args), query)


def numbers(tests):
    return [test.pk for test in tests]


def test_page_draws_each_kind_and_the_difference_from_the_first(technician, two_shoes):
    response = get(technician, "curve-overlay", test=numbers(two_shoes))
    drawn = {one.part: one for one in response.context["overlays"]}
    assert list(drawn) == ["torsion", "torsion-difference", "compression", "compression-difference"]
    assert [len(one.drawing.lines) for one in drawn.values()] == [2, 1, 2, 1]
    trace = response.context["figures"]["torsion-difference"]["traces"][0]
    assert (trace["x"][-1], trace["y"][-1]) == (15.0, pytest.approx(1.0))
    text = response.content.decode()
    assert "Fenwright Mooring, M-1, 1 September 2025" in text
    assert "style=" not in text


def test_reader_of_inches_sees_inch_pounds(technician, two_shoes):
    technician.cookies["units"] = "imperial"
    figures = get(technician, "curve-overlay", test=numbers(two_shoes)).context["figures"]
    assert figures["torsion-difference"]["traces"][0]["y"][-1] == pytest.approx(8.8507, rel=1e-4)
    assert figures["compression"]["units"] == ["in", "lbf"]


def test_points_are_a_table_in_si_units(technician, two_shoes):
    response = get(technician, "curve-overlay-points", test=numbers(two_shoes))
    rows = list(csv.DictReader(io.StringIO(b"".join(response.streaming_content).decode())))
    last = [row for row in rows if (row["kind"], row["difference_from_first"]) == ("torsion", "True")][-1]
    assert (last["shoe"], last["repeats"], last["load_unit"]) == ("mooring", "3", "N*m")
    assert float(last["load"]) == pytest.approx(1.0)


def test_picture_is_a_whole_svg_file_with_its_key(technician, two_shoes):
    for part in ("torsion", "compression-difference"):
        response = get(technician, "curve-overlay-picture", part, test=numbers(two_shoes))
        assert response.headers["Content-Type"] == "image/svg+xml"
        assert response.headers["Content-Disposition"].startswith("attachment")
        root = ET.fromstring(response.content)
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        assert "Fenwright Mooring, M-1" in response.content.decode()
    assert get(technician, "curve-overlay-picture", "no-such", test=numbers(two_shoes)).status_code == 404


def test_test_without_curves_and_numbers_of_none_are_named_or_left_out(technician, lab, two_shoes):
    readings = lab.upload(readings_bytes(), name="r.csv").tests.get()
    response = get(technician, "curve-overlay", test=[readings.pk, two_shoes[0].pk, 424242, "x"])
    assert [test.pk for test in response.context["without"]] == [readings.pk]
    assert [one.part for one in response.context["overlays"]] == ["torsion", "compression"]
    assert "There is nothing to draw" in get(technician, "curve-overlay").content.decode()
    assert "There is nothing to draw" in get(technician, "curve-overlay", test=readings.pk).content.decode()


def test_curve_that_stops_short_has_no_part_in_the_mean(technician, lab):
    rows = [*curve_rows([(5.0, 5.9)]), "torsion,2,loading,0,0", "torsion,2,loading,5,9"]
    test = lab.upload(bench_bytes(rows), name="short.csv").tests.get()
    drawn = get(technician, "curve-overlay", test=test.pk).context["figures"]["torsion"]["traces"][0]
    assert drawn["y"][-1] == pytest.approx(5.0)


def test_overlay_takes_the_same_queries_however_many(technician, lab, two_shoes, django_assert_max_num_queries):
    tests = [*two_shoes, *(lab.accepted(specimen=f"N-{number}") for number in range(6))]
    with django_assert_max_num_queries(9):
        assert len(get(technician, "curve-overlay", test=numbers(tests)).context["keys"]) == 8


def test_report_has_conditions_readings_budgets_certificates_curves_and_people(technician, lab):
    test = services.bench_test_approve(actor=lab.reviewer, test=lab.accepted(), reason="sound")
    text = " ".join(get(technician, "test-report", test.pk).content.decode().split())
    for words in (
        "Conditions, protocol P1",
        "repeat 3",
        "Uncertainty budget: Stability",
        "C-torque",
        "<polyline",
        "Reviewed by",
        "sound",
        "approved test",
        test.file_sha256,
        "Degrees of freedom",
    ):
        assert words in text, words
    assert "report-letter.css" in get(technician, "test-report", test.pk, paper="letter").content.decode()
    assert "report-letter.css" not in get(technician, "test-report", test.pk, paper="a0").content.decode()


def test_report_of_a_held_test_says_so_and_names_missing_certificates(technician, lab):
    services.rig_create(actor=lab.reviewer, code="rig-9")
    rows = ["torsion,1,loading,0,0", "torsion,1,loading,5,2"]
    test = lab.upload(bench_bytes(rows, rig="rig-9"), name="held.csv").tests.get()
    text = get(technician, "test-report", test.pk).content.decode()
    assert "This test is held; nobody has decided on it." in text
    assert "none in date" in text
    assert "Not scored" in text


def test_report_takes_few_queries(technician, lab, django_assert_max_num_queries):
    test = lab.accepted()
    with django_assert_max_num_queries(12):
        get(technician, "test-report", test.pk)
