"""Whatever is in the query string of the outcomes: a page, a file, or a 400 that says why."""

from __future__ import annotations

import datetime as dt
from urllib.parse import urlencode

import pytest
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.domain.people.recurrence import Pain
from fittings.services import follow_up_answer
from tests.shared import shared

KEYS = ["by", "since", "until", "store", "band", "use", "fitter", "as", "closer", "page", "from", "unknown"]
NASTY = [
    "",
    "\x00",
    "nan",
    "-1",
    "9" * 40,
    "2026-13",
    "2026-02",
    "0001-01",
    "9999-12",
    "store",
    "target",
    "1",
    "3",
    "csv",
]
NASTY += ["curve-csv", "%", "'; --", "<b>", "\u202e", "store-a", "running", "a" * 3000, "٣", "true"]
queries = st.lists(st.tuples(st.sampled_from(KEYS), st.sampled_from(NASTY) | st.text(max_size=12)), max_size=6)
ADDRESSES = ["", "model/", "agreement/", "demand/", "shoes/", "rules/", "rules/new/"]


@shared
def people(chosen):
    at = timezone.now() - dt.timedelta(weeks=45)
    for number in range(14):
        fitting = chosen(at=at, name=f"Person {number}", email="")
        for weeks in (2, 6):
            pains = (Pain("heel", "left", 3),) if weeks == 6 and number < 7 else ()
            follow_up_answer(
                actor=None,
                follow_up=fitting.follow_ups.get(weeks=weeks),
                answer=FollowUpAnswer(distance_km_week=20.0, pain=pains, nothing_hurts=not pains),
                at=at + dt.timedelta(weeks=weeks, days=number),
            )


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(query=queries)
def test_no_query_string_fails(client, cast, people, query):
    client.force_login(cast.office)
    for address in ADDRESSES:
        answer = client.get(f"/outcomes/{address}?{urlencode(query, errors='replace')}")
        assert answer.status_code in (200, 400), address


PROBLEMS = [
    ("since=soon", "Write the month as year and month"),
    ("since=2026-05&until=2026-04", "must not be before the first"),
    ("since=1600-01", "between 1900 and 2200"),
    ("store=store-b", "not one of the choices"),
    ("band=9", "not one of the choices"),
    ("by=mood", "not one of the choices"),
]


def test_problem_is_at_its_field_without_figures(cast, sign_in, people):
    client = sign_in(cast.fitter_a)
    for query, words in PROBLEMS:
        answer = client.get(f"/outcomes/?{query}")
        assert answer.status_code == 400, query
        assert words in answer.content.decode(), query
        assert "People and recurrences" not in answer.content.decode(), query


@pytest.mark.parametrize("by", ["target", "band", "store"])
def test_each_way_of_setting_side_by_side_has_table_csv_and_closer_look(cast, sign_in, people, by):
    client = sign_in(cast.manager_a)
    page = client.get(f"/outcomes/?by={by}&closer=1").content.decode()
    assert "vendor/plotly/plotly.min.js" in page
    assert 'id="figures"' in page
    assert "vendor/plotly" not in client.get(f"/outcomes/?by={by}").content.decode()
    groups = client.get(f"/outcomes/?by={by}&as=csv")
    assert groups.headers["Content-Type"].startswith("text/csv")
    lines = groups.getvalue().decode().splitlines()
    assert lines[0].startswith("group,people,answered,lost,at_risk,recurrences,distance_km,per_1000_km")
    assert lines[-1].startswith("All,14,14,")
    curve = client.get(f"/outcomes/?by={by}&as=curve-csv").getvalue().decode().splitlines()
    assert [line.split(",")[1:4] for line in curve[1:]] == [["2", "14", "0"], ["6", "7", "7"]]


def test_curve_across_stores_is_given_and_drawn_only_where_the_table_has_a_number(cast, sign_in, people, without_noise):
    client = sign_in(cast.office)
    curve = client.get("/outcomes/?by=band&as=curve-csv").getvalue().decode().splitlines()
    assert [line.split(",")[1:4] for line in curve[1:]] == [["6", "7", "hidden"]]
    page = client.get("/outcomes/?by=band").content.decode()
    assert 'data-label="' in page
    line = page.split('<path class="fit-curve__line')[1].split('d="')[1].split('"')[0]
    # One point: its interval, and no line from a share of all that the table hides.
    assert len({end.split()[0] for end in line.removeprefix("M").split("L")}) == 1


def test_months_narrow_the_period(cast, sign_in, people):
    month = f"{timezone.now() - dt.timedelta(weeks=45):%Y-%m}"
    client = sign_in(cast.manager_a)
    assert "All,14," in client.get(f"/outcomes/?since={month}&until={month}&as=csv").getvalue().decode()
    assert "All,0," in client.get("/outcomes/?until=2020-12&as=csv").getvalue().decode()


def test_model_says_too_few_instead_of_numbers(cast, sign_in, people):
    page = sign_in(cast.manager_a).get("/outcomes/model/").content.decode()
    assert "Too few to say: 7 recurrences, 40 are needed for 4 coefficients." in page
    assert "Hazard ratio of a recurrence" not in page
    assert sign_in(cast.manager_a).get("/outcomes/model/?as=csv").getvalue().decode().count("\n") == 1


def test_text_in_a_file_is_no_formula():
    from core.web.csv_export import csv_response

    assert b"'=1+1,2" in csv_response("x.csv", ["a", "b"], [["=1+1", 2]]).getvalue()


@pytest.mark.parametrize(
    ("who", "address", "most"),
    [
        ("manager_a", "/outcomes/", 11),
        ("office", "/outcomes/?by=band", 17),
        ("manager_a", "/outcomes/model/", 11),
        ("manager_a", "/outcomes/agreement/", 12),
        ("manager_a", "/outcomes/demand/", 17),
        ("technician", "/outcomes/shoes/", 5),
        ("office", "/outcomes/rules/", 4),
    ],
)
def test_pages_cost_few_queries(cast, sign_in, people, who, address, most, django_assert_max_num_queries):
    client = sign_in(cast.members()[who])
    with django_assert_max_num_queries(most):
        client.get(address)
