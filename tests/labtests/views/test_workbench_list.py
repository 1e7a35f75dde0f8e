"""The list of tests: filters, order, columns, paging, the tables for other programs, the months."""

from __future__ import annotations

import csv
import datetime as dt
import io

import pyarrow.parquet as pq
import pytest
from django.urls import reverse

from catalogue import services as catalogue
from catalogue.models import Brand
from labtests import services
from labtests.models import BenchTest, Result, ScoringModel
from tests.labtests.bench_text import bench_bytes, curve_rows, readings_bytes
from tests.people import person
from tests.shared import shared


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@shared
def several(lab):
    """Three tests that differ in everything that the list filters by."""
    other = catalogue.shoe_create(
        actor=None, slug="mooring", brand=Brand.objects.get(), name="Mooring Light", version="4"
    )
    services.rig_create(actor=lab.reviewer, code="rig-2")
    person("second", "technician")
    return {
        "early": lab.accepted(specimen="E-1", performed="2026-02-03T09:00:00+00:00", temperature="21.4 degC"),
        "soft": lab.accepted(specimen="S-1", torque_15=2.0, temperature="23.9 degC", operator="second"),
        "other": lab.upload(
            bench_bytes(curve_rows([(6.2, 5.0), (6.3, 5.1)]), specimen="M-1", shoe=other.slug, rig="rig-2"),
            name="m.csv",
        ).tests.get(),
    }


def listed(client, **query):
    response = client.get(reverse("labtests:test-list"), query)
    assert response.status_code == 200, response.content[-2000:]
    return [row.test.specimen.code for row in response.context["rows"]]


@pytest.mark.parametrize(
    ("query", "codes"),
    [
        ({"q": "mooring"}, ["M-1"]),
        ({"q": "light FENWRIGHT"}, ["M-1"]),
        ({"q": "fenrunner 2"}, ["S-1", "E-1"]),
        ({"operator": "second"}, ["S-1"]),
        ({"rig": "rig-2"}, ["M-1"]),
        ({"since": "2026-03-04"}, ["M-1", "S-1"]),
        ({"until": "2026-02-03"}, ["E-1"]),
        ({"since": "2026-02-03", "until": "2026-02-03"}, ["E-1"]),
        ({"temperature_max": "21.4"}, ["E-1"]),
        ({"temperature_min": "22", "temperature_max": "23"}, ["M-1"]),
        ({"protocol": "P9"}, []),
        ({"state": "held"}, ["M-1"]),
        ({"shoe": "fenrunner-2", "order": "performed"}, ["E-1", "S-1"]),
        ({"order": "stability"}, ["S-1", "E-1", "M-1"]),
        ({"order": "-torque"}, ["M-1", "E-1", "S-1"]),
        ({"order": "temperature"}, ["E-1", "M-1", "S-1"]),
        ({"until": "9999-12-31", "order": "-performed"}, ["M-1", "S-1", "E-1"]),
    ],
)
def test_list_shows_what_was_asked_for_in_its_order(technician, several, query, codes):
    assert listed(technician, **query) == codes


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"since": "2026-03-05", "until": "2026-03-04"}, "before the first day"),
        ({"temperature_min": "25", "temperature_max": "21"}, "below 25 °C"),
        ({"temperature_min": "nan"}, "Enter a number"),
        ({"temperature_min": "900"}, "Write 200 or less"),
        ({"since": "yesterday"}, "valid date"),
        ({"order": "password"}, "This is not one of the choices"),
        ({"column": "secret"}, "This is not one of the choices"),
    ],
)
@pytest.mark.parametrize("name", ["test-list", "test-export-csv", "test-export-parquet"])
def test_filter_that_makes_no_sense_is_explained(technician, several, query, words, name):
    response = technician.get(reverse(f"labtests:{name}"), query)
    assert response.status_code == 400
    if "order" not in query:
        assert words in response.content.decode()


def test_columns_are_those_chosen_and_stay_while_paging_and_sorting(technician, lab, several, monkeypatch):
    from labtests.views import workbench

    monkeypatch.setattr(workbench, "page_of", lambda rows, request: page_of(rows, request, 2))
    query = {"column": ["torque", "operator"], "q": "fen", "order": "torque"}
    response = technician.get(reverse("labtests:test-list"), query)
    assert response.context["columns"] == ("operator", "torque")
    assert [cell.value for cell in response.context["rows"][0].cells] == ["second", "2.00\xa0N·m"]
    text = response.content.decode()
    assert "?column=torque&amp;column=operator&amp;q=fen&amp;order=torque&amp;page=2" in text
    assert "?column=torque&amp;column=operator&amp;q=fen&amp;order=-torque" in text
    assert 'aria-sort="ascending"' in text


def page_of(rows, request, size):
    from labtests.views.common import page_of as real

    return real(rows, request, size)


def test_every_column_can_be_shown_for_every_test(technician, several):
    from labtests.forms.workbench import COLUMNS

    lines = technician.get(reverse("labtests:test-list"), {"column": list(COLUMNS)}).context["rows"]
    assert {len(line.cells) for line in lines} == {len(COLUMNS)}


@pytest.mark.parametrize("order", ["", "stability", "-temperature", "shoe"])
def test_list_takes_the_same_queries_in_any_order(technician, lab, several, django_assert_max_num_queries, order):
    from labtests.forms.workbench import COLUMNS

    for number in range(4):
        lab.accepted(specimen=f"N-{number}")
    with django_assert_max_num_queries(9):
        technician.get(reverse("labtests:test-list"), {"order": order, "column": list(COLUMNS)})


def test_unknown_order_says_how_to_choose_one_and_is_not_sent_again(technician, several):
    response = technician.get(reverse("labtests:test-list"), {"order": "nonsense"})
    assert response.status_code == 400
    page = response.content.decode()
    assert "The list has no such order. Press “Show”, then choose one by the heading of a column." in page
    assert 'value="nonsense"' not in page


def table(client, **query):
    response = client.get(reverse("labtests:test-export-csv"), query)
    assert response.headers["Content-Disposition"].startswith("attachment")
    return list(csv.DictReader(io.StringIO(b"".join(response.streaming_content).decode())))


def test_csv_has_a_row_a_repeat_with_uncertainty_certificates_and_probabilities(technician, several):
    rows = [row for row in table(technician, rig="rig-1") if row["specimen"] == "S-1"]
    result = Result.objects.get(test=several["soft"])
    assert [row["repeat"] for row in rows] == ["1", "2", "3"]
    assert [float(row["torque_15_nm"]) for row in rows] == pytest.approx([1.98, 2.0, 2.02])
    assert {float(row["mean_torque_15_nm"]) for row in rows} == {several["soft"].torque_15_nm}
    assert {float(row["stability_u"]) for row in rows} == {result.stability_u}
    assert float(rows[0]["midfoot_df"]) == pytest.approx(result.budget_tables["midfoot"].df)
    assert rows[0]["certificate_torque"] == "C-torque"
    probabilities = [float(rows[0][name]) for name in rows[0] if name.startswith("probability_band_")]
    assert len(probabilities) == 5
    assert sum(probabilities) == pytest.approx(1.0)
    assert rows[0]["performed"] == "2026-03-04T10:15:00+00:00"


def test_csv_names_why_a_test_was_held_and_leaves_out_certificates_that_it_has_none_of(technician, several):
    row = table(technician, rig="rig-2")[0]
    assert "calibration_force" in row["held_codes"]
    assert row["certificate_force"] == ""
    assert row["state"] == "held"


def test_csv_cell_never_runs_as_a_formula(technician, lab):
    Brand.objects.update(name="=HYPERLINK(1)")
    lab.accepted()
    assert table(technician)[0]["brand"] == "'=HYPERLINK(1)"


def test_csv_and_parquet_hold_the_same(technician, lab, several):
    lab.upload(readings_bytes(), name="readings.csv")
    response = technician.get(reverse("labtests:test-export-parquet"), {"order": "test"})
    found = pq.read_table(io.BytesIO(b"".join(response.streaming_content)))
    rows = table(technician, order="test")
    assert found.column_names == list(rows[0])
    assert [str(value) for value in found["test"].to_pylist()] == [row["test"] for row in rows]
    as_text = [["" if value is None else repr(value) for value in found[name].to_pylist()] for name in ("stability",)]
    assert as_text == [[row["stability"] for row in rows]]
    assert found["performed"].to_pylist()[0] == dt.datetime(2026, 2, 3, 9, tzinfo=dt.UTC)


def test_empty_tables_have_their_columns(technician, lab):
    assert table(technician) == []
    response = technician.get(reverse("labtests:test-export-parquet"))
    found = pq.read_table(io.BytesIO(b"".join(response.streaming_content)))
    assert found.num_rows == 0
    assert "probability_band_1" in found.column_names


@pytest.mark.parametrize("name", ["test-export-csv", "test-export-parquet"])
def test_export_takes_the_same_queries_however_long(technician, lab, several, django_assert_max_num_queries, name):
    for number in range(4):
        lab.accepted(specimen=f"N-{number}")
    with django_assert_max_num_queries(12):
        b"".join(technician.get(reverse(f"labtests:{name}")).streaming_content)


def test_rescored_tests_have_degrees_of_freedom_too(technician, lab):
    test = lab.accepted()
    before = Result.objects.get(test=test).budget_tables["rearfoot"].df
    draft = services.model_draft_create(
        actor=person("author", "reviewer"), version="S2", reason="a try", source=ScoringModel.objects.get()
    )
    services.model_adopt(actor=lab.reviewer, draft=draft, revision=draft.revision, reason="agreed")
    row = table(technician)[0]
    assert row["scoring_model"] == "S2"
    assert float(row["rearfoot_df"]) == pytest.approx(before)


def test_months_count_tests_the_share_held_and_why(technician, lab, several):
    held = lab.accepted(specimen="H-1", temperature="30 degC")
    services.bench_test_void(actor=lab.reviewer, test=held, reason="too warm")
    lines = technician.get(reverse("labtests:test-months")).context["lines"]
    march = next(line for line in lines if line.month == "March 2026")
    assert (march.tests, march.held_ever, march.share_held) == (3, 2, "67\xa0%")
    assert (march.held, march.waiting, march.void, march.approved) == (1, 1, 1, 0)
    assert "midsole temperature: 1" in march.why
    assert "force calibration: 1" in march.why


def test_months_without_tests_say_so(technician):
    assert "No test in the last 24 months" in technician.get(reverse("labtests:test-months")).content.decode()


def test_months_take_the_same_queries_however_long(technician, lab, several, django_assert_max_num_queries):
    for number in range(3):
        lab.accepted(specimen=f"H-{number}", temperature="30 degC", performed=f"2026-0{number + 1}-05T10:00:00Z")
    with django_assert_max_num_queries(7):
        technician.get(reverse("labtests:test-months"))


def test_api_takes_the_same_filters(lab, several, api_for):
    client = api_for(lab.technician)
    answer = client.get("/api/lab/tests/", {"q": "mooring", "temperature_min": "20", "order": "-stability"}).json()
    assert [row["specimen"] for row in answer["results"]] == ["M-1"]
    assert client.get("/api/lab/tests/", {"operator": "second"}).json()["count"] == 1
    refused = client.get("/api/lab/tests/", {"order": "password", "since": "x"})
    assert refused.status_code == 400
    assert set(refused.json()["fields"]) == {"order", "since"}
    assert BenchTest.objects.count() == 3
