"""Pages of check shoes, studies, comparisons and wear: what they show, what bad input gets, their queries."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from labtests import services
from labtests.models import CheckDuty, GaugeStudy, Rig, Specimen
from tests.labtests.bench_text import READINGS_ROW, bench_bytes, curve_rows, readings_bytes
from tests.shared import shared

TORQUES = (5.10, 5.13, 5.08, 5.11, 5.07, 5.12, 5.09, 5.13, 5.10, 5.08, 5.11, 5.09)
BALANCED = """part,operator,trial,value
a,x,1,4.1
a,x,2,4.2
a,y,1,4.2
a,y,2,4.1
b,x,1,5.1
b,x,2,5.0
b,y,1,5.2
b,y,2,5.1
"""
RING = "lab,specimen,value\nA,one,4.1\nA,one,4.2\nB,one,4.3\nB,one,4.2\nC,one,4.0\nC,one,4.1\n"


def text_of(response) -> str:
    return " ".join(response.content.decode().split())


def page(client, name, *args, **query):
    response = client.get(reverse(f"labtests:{name}", args=args), query)
    assert response.status_code == 200, response.content[:500]
    text = text_of(response)
    assert "style=" not in text
    return text


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@pytest.fixture
def reviewer(lab, client):
    client.force_login(lab.reviewer)
    return client


def row(specimen, torque, moment, *, deflection=5.9, rig="rig-1", operator="technician", repeat=1):
    template = READINGS_ROW.replace("F2-01", specimen).replace("rig-1", rig).replace("technician", operator)
    return template.replace("2026-03-04T10:15:00+00:00", moment).format(repeat, torque, deflection)


def measured(lab, *given, **more):
    """Upload one test of three repeats, so that its uncertainty is known."""
    specimen, torque, moment = given
    rows = [row(specimen, torque + d, moment, repeat=n, **more) for n, d in enumerate((-0.01, 0.0, 0.01), start=1)]
    return lab.upload(readings_bytes(rows)).tests.get()


def moment(day, hour=8):
    return (dt.datetime(2026, 2, 1, hour, tzinfo=dt.UTC) + dt.timedelta(days=day)).isoformat()


@shared
def charted(lab):
    for day, torque in enumerate(TORQUES):
        measured(lab, "CHK-1", torque, moment(day), deflection=5.9 + 0.01 * (-1) ** day)
    services.check_shoe_designate(
        actor=lab.technician,
        rig=lab.rig,
        specimen=Specimen.objects.get(code="CHK-1"),
        since=dt.date(2026, 2, 1),
        reason="dense foam",
    )
    return lab


def test_chart_is_drawn_with_limits_and_reported_in_a_table(technician, charted):
    text = page(technician, "check-detail", "rig-1")
    for words in ("Check shoe CHK-1", "in control", "Trial limits from", "upper limit", "<circle", "12, test"):
        assert words in text, words
    # What the chart could have found, and how often it is wrong about a rig that is in order.
    for words in (
        "would be noticed within 13 checks in 8 of 10 cases",
        "about 12 false alarms in a year of 250 checks",
    ):
        assert words in text, words
    assert "5.130\xa0N·m" in technician.get(reverse("labtests:check-detail", args=["rig-1"])).content.decode()


def test_chart_in_imperial_units(technician, charted):
    technician.cookies["units"] = "imperial"
    assert "in·lbf" in page(technician, "check-detail", "rig-1")


def test_alarm_is_shown_by_shape_and_in_words_and_cleared_on_the_rig_page(reviewer, charted):
    measured(charted, "F2-01", 5.1, moment(12, 9))
    measured(charted, "CHK-1", 5.2, moment(13))
    text = page(reviewer, "check-detail", "rig-1")
    for words in (
        "Publishing from this rig is stopped",
        "In doubt: 1 test",
        "out of control",
        "dot--out",
        "one point more than 3σ",
    ):
        assert words in text, words
    answer = reviewer.post(reverse("labtests:rig-clear", args=["rig-1"]), {"reason": "refitted the arm"}, follow=True)
    assert "cleared for publishing" in text_of(answer)
    text = page(reviewer, "check-detail", "rig-1")
    assert "Cleared by reviewer" in text
    assert "dot--off" in text


def test_rig_that_stays_out_of_control_says_so_when_cleared(reviewer, charted):
    measured(charted, "CHK-1", 6.2, moment(13))
    measured(charted, "CHK-1", 5.35, moment(14))
    answer = reviewer.post(reverse("labtests:rig-clear", args=["rig-1"]), {"reason": "refitted"}, follow=True)
    assert "stays stopped" in text_of(answer)


def test_lab_day_without_a_check_is_remembered(technician, charted):
    measured(charted, "F2-01", 5.1, "2026-03-02T08:00:00+00:00")
    measured(charted, "F2-02", 5.1, "2026-03-03T08:00:00+00:00")
    measured(charted, "CHK-1", 5.1, "2026-03-03T08:30:00+00:00")
    from django.utils import timezone

    day = (timezone.localdate() - dt.date(2026, 3, 2)).days
    text = page(technician, "rig-detail", "rig-1")
    assert "Not checked today: test CHK-1" in text
    if day <= 30:
        assert "without a check on 2 March 2026." in text


def test_rig_without_a_check_shoe_says_so(technician, lab):
    assert "No check shoe is on duty" in page(technician, "rig-detail", "rig-1")
    text = page(technician, "check-detail", "rig-1")
    assert "No check shoe has ever been designated" in text
    assert "Designate the check shoe" in text


def test_check_shoe_is_designated_and_retired_on_the_page(technician, lab, client):
    lab.accepted(specimen="F2-01")
    address = reverse("labtests:check-designate", args=["rig-1"])
    assert technician.post(address, {}).status_code == 400
    unknown = technician.post(address, {"specimen": "nope", "since": "2026-03-01", "reason": "x"})
    assert unknown.status_code == 400
    assert "There is no specimen" in text_of(unknown)
    late = technician.post(address, {"specimen": "F2-01", "since": "2999-03-01", "reason": "x"})
    assert "must not be in the future" in text_of(late)
    good = {"specimen": "F2-01", "since": "2026-03-01", "reason": "steady"}
    assert technician.post(address, good).status_code == 302
    again = technician.post(address, good)
    assert again.status_code == 400
    retire = reverse("labtests:check-retire", args=["rig-1"])
    assert technician.post(retire, {"reason": "torn"}).status_code == 403
    client.force_login(lab.reviewer)
    assert client.post(retire, {"reason": ""}).status_code == 400
    assert client.post(retire, {"reason": "torn"}).status_code == 302
    assert "has no check shoe on duty" in text_of(client.post(retire, {"reason": "torn"}, follow=True))
    text = page(client, "check-detail", "rig-1")
    assert "Retired" in text
    assert "torn" in text
    assert f"?duty={CheckDuty.objects.get().pk}" in text


def test_checks_page_gathers_everything(technician, charted):
    text = page(technician, "check-home")
    for words in ("Can the bench be trusted?", "CHK-1", "None has been planned yet", "Compare the rigs", "Wear series"):
        assert words in text, words


def second_operator(lab):
    from core.gate.permissions import Role
    from core.models import Membership, User

    user = User.objects.create(username="technician-b")
    Membership.objects.create(user=user, role=Role.TECHNICIAN)
    return user


PLAN = {
    "title": "Spring study",
    "rig": "rig-1",
    "specimens": "G-1\nG-2",
    "operators": "technician, technician-b",
    "trials": "2",
    "begins_on": "2026-02-01",
    "reason": "before the season",
}


@pytest.fixture
def study(technician, lab):
    """A planned study whose last test is still missing."""
    second_operator(lab)
    for n, (specimen, operator, trial) in enumerate(
        [(s, o, t) for s in ("G-1", "G-2") for o in ("technician", "technician-b") for t in (1, 2)][:-1]
    ):
        torque = {"G-1": 4.0, "G-2": 5.0}[specimen] + 0.01 * trial + 0.004 * n
        measured(lab, specimen, torque, moment(n), operator=operator)
    answer = technician.post(reverse("labtests:study-create"), PLAN)
    assert answer.status_code == 302, answer.content[:2000]
    return GaugeStudy.objects.get()


def test_study_is_planned_and_says_what_is_missing(technician, study):
    text = page(technician, "study-detail", study.pk)
    assert "7 of 8 tests are in." in text
    assert "G-2 by technician-b, trial 2" in text
    assert "1 of 2, 1 missing" in text
    assert "wrong band" not in text


@pytest.mark.parametrize("quantity", ["torque", "deflection", "stability", "nonsense"])
def test_complete_study_shows_its_result(technician, lab, study, quantity):
    measured(lab, "G-2", 5.05, moment(9), operator="technician-b", deflection=5.91)
    text = page(technician, "study-detail", study.pk, quantity=quantity)
    assert "8 of 8 tests are in." in text
    for words in (
        "From the specimens to the bench",
        "analysis of variance",
        "tell apart",
        "Points of the score",
        "<polyline",
    ):
        assert words in text, words
    assert "one point from a band limit lands in the wrong band in" in text
    places = [
        text.index(f">{name}<") for name in ("specimens", "repeated tests by one operator", "the bench as a whole")
    ]
    assert places == sorted(places)


def test_void_test_leaves_the_study(technician, lab, study):
    test = measured(lab, "G-2", 5.05, moment(9), operator="technician-b")
    services.bench_test_void(actor=lab.reviewer, test=test, reason="slipped")
    assert "7 of 8 tests are in." in page(technician, "study-detail", study.pk)


def test_tests_beyond_the_plan_do_not_count(technician, lab, study):
    for hour in (9, 10):
        measured(lab, "G-2", 5.05, moment(9, hour), operator="technician-b", deflection=5.9 + hour / 1000)
    text = page(technician, "study-detail", study.pk)
    assert "8 of 8 tests are in." in text
    assert "1 beyond the plan" in text


def test_study_readings_come_as_csv_that_the_other_page_takes(technician, lab, study):
    measured(lab, "G-2", 5.05, moment(9), operator="technician-b", deflection=5.91)
    response = technician.get(reverse("labtests:study-readings", args=[study.pk]))
    assert response.headers["Content-Disposition"].startswith("attachment")
    table = response.getvalue().decode().replace("torque_15_nm", "value")
    assert "From the specimens to the bench" in text_of(
        technician.post(reverse("labtests:study-what-if"), {"text": table})
    )


def test_study_is_closed_once_with_a_reason(technician, study):
    address = reverse("labtests:study-close", args=[study.pk])
    assert technician.post(address, {"reason": ""}).status_code == 400
    assert technician.post(address, {"reason": "done"}).status_code == 302
    assert "already closed" in text_of(technician.post(address, {"reason": "done"}, follow=True))
    assert "Closed by" in page(technician, "study-detail", study.pk)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"specimens": "G-1"}, "specimens must be 2 to 50, got 1"),
        ({"specimens": "G-1 nope"}, "there is no specimen"),
        ({"operators": "technician fitter-a"}, "there is no person of the lab"),
        ({"operators": "technician technician"}, "operators must be 2 to 20, got 1"),
        ({"trials": "1"}, "greater than or equal to 2"),
        ({"rig": "rig-9"}, "Select a valid choice"),
        ({"begins_on": "soon"}, "Enter a valid date"),
        ({"title": "a\x07b"}, "control characters"),
        ({"reason": "  "}, "Fill in “Why the study is made”."),
    ],
)
def test_plan_that_cannot_be_is_explained(technician, lab, change, words):
    second_operator(lab)
    for specimen in ("G-1", "G-2"):
        lab.accepted(specimen=specimen)
    response = technician.post(reverse("labtests:study-create"), {**PLAN, **change})
    assert response.status_code == 400
    assert words in text_of(response)
    assert not GaugeStudy.objects.exists()


def test_numbers_from_elsewhere_are_analysed_and_not_stored(technician):
    address = reverse("labtests:study-what-if")
    assert technician.get(address).status_code == 200
    assert "analysis of variance" in text_of(technician.post(address, {"text": BALANCED}))
    file = SimpleUploadedFile("s.csv", BALANCED.replace(",", ";").encode())
    assert "analysis of variance" in text_of(technician.post(address, {"file": file}))
    assert not GaugeStudy.objects.exists()


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("", "Paste a table or pick a file"),
        ("part,operator,value\n1,2,3", "is missing in the heading"),
        ("part,operator,trial,value\na,x,1,4,5", "must be ≥ 2"),
        ("part,operator,trial,value\na,x,1,four", "Line 2, value"),
        ("part,operator,trial,value\na,x,1,nan", "is not a number"),
        ("part,operator,trial,value\na,x,1,1e999", "is not a number"),
        ("part;operator;trial;value\na;x;1;5,02", "a decimal point is expected, such as 5.02"),
        ("part,operator,trial,value\na,x,1", "the line has 3 columns"),
        ("part,operator,trial,value\n,x,1,2", "write a name"),
        ("part,operator,trial,value\n", "no row below the heading"),
        (BALANCED + "b,y,2,5.3\n", "already on line 9"),
        (BALANCED + "c,y,2,5.3\n", "must test every part equally often"),
        (BALANCED.replace("5.", "4.").replace("4.2", "4.1").replace("4.0", "4.1"), "must not all be equal"),
    ],
)
def test_table_that_cannot_be_analysed_is_explained(technician, table, words):
    response = technician.post(reverse("labtests:study-what-if"), {"text": table})
    assert response.status_code == 400
    assert words in text_of(response).replace("&#x27;", "'")


@pytest.mark.parametrize("name", ["study-what-if", "precision-what-if"])
@pytest.mark.parametrize("data", [b"\xff\xfe", b"\x00\x01", b"lab", b'"', b"x" * 500_000])
def test_odd_bytes_are_explained_not_failed(technician, name, data):
    response = technician.post(reverse(f"labtests:{name}"), {"file": SimpleUploadedFile("x.csv", data)})
    assert response.status_code == 400


@shared
def three_rigs(lab):
    """Two specimens on three rigs, twice each; the third rig reads high."""
    for number, offset in ((1, 0.0), (2, 0.01), (3, 0.3)):
        if number > 1:
            services.rig_create(actor=lab.reviewer, code=f"rig-{number}")
        for n, (specimen, torque) in enumerate([("P-1", 4.0), ("P-1", 4.02), ("P-2", 5.0), ("P-2", 5.03)]):
            test = measured(lab, specimen, torque + offset, moment(n, number), rig=f"rig-{number}")
            # The rigs beside the first have no calibration: their tests are held, and become accepted here.
            type(test).objects.filter(pk=test.pk).update(state="accepted", reasons=[])
    return lab


def test_rigs_are_compared_over_shared_specimens(technician, three_rigs):
    text = page(technician, "precision-detail")
    for words in (
        "P-1",
        "P-2",
        "rig-3",
        "Precision by specimen",
        "Cochran&#x27;s test",
        "Grubbs&#x27; test",
        "2.8 times",
        "Between the rigs alone",
        "nothing found</span> would name",
        "to be named in 8 of 10 such comparisons; less can go unnoticed",
    ):
        assert words in text, words
    one = page(technician, "precision-detail", specimen="P-1", quantity="deflection")
    assert 'id="h-level-2"' not in one


def test_comparison_over_other_days_finds_nothing_and_says_so(technician, three_rigs):
    text = page(technician, "precision-detail", specimen="P-1", ends_on="2020-01-01")
    assert "Not computed" in text


@pytest.mark.parametrize("query", [{"specimen": "X"}, {"begins_on": "soon"}, {"quantity": "colour"}])
def test_comparison_that_cannot_be_read_is_explained(technician, three_rigs, query):
    response = technician.get(reverse("labtests:precision-detail"), query)
    assert response.status_code == 400
    assert "cannot be compared" in text_of(response)


def test_comparison_without_shared_specimens_says_so(technician, lab):
    lab.accepted()
    assert "No specimen has been tested on two rigs yet" in page(technician, "precision-detail")


def test_laboratories_are_compared_by_a_table(technician):
    address = reverse("labtests:precision-what-if")
    assert technician.get(address).status_code == 200
    text = text_of(technician.post(address, {"text": RING}))
    assert "Precision by specimen" in text
    many = "lab,specimen,value\n" + "".join(f"A,s{n},1\nB,s{n},2\n" for n in range(13))
    assert technician.post(address, {"text": many}).status_code == 400
    single = technician.post(address, {"text": "lab,specimen,value\nA,one,1\nB,one,2\n"})
    assert "at least one laboratory must have" in text_of(single)


@shared
def worn(lab):
    for n, km in enumerate((0, 100, 200, 300, 400, 500)):
        torque = 4.9 - 0.0012 * km + 0.004 * (-1) ** n
        data = bench_bytes(
            curve_rows([(torque + d, 6.0 + km / 900 + d) for d in (-0.01, 0.0, 0.01)]),
            specimen="W-1",
            performed=moment(n),
            worn=f"{km} km",
        )
        lab.upload(data)
    return lab


def test_wear_series_has_a_trend_and_says_when_the_band_is_left(technician, worn):
    assert "W-1" in page(technician, "wear-list")
    text = page(technician, "wear-detail", "W-1")
    for words in ("It leaves the band", "95 % interval", "plot__area", "Trend at the last", "beyond the last tested"):
        assert words in text, words


@pytest.mark.parametrize("quantity", ["torsional_stiffness", "heel_stiffness", "midfoot", "cushioning", "nonsense"])
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_wear_of_each_reading_is_shown(technician, worn, quantity, units):
    technician.cookies["units"] = units
    assert "<polyline" in page(technician, "wear-detail", "W-1", quantity=quantity)


def test_two_tests_are_too_few_to_say(technician, lab):
    for n, km in enumerate((0, 100)):
        lab.upload(bench_bytes(curve_rows([(5.1, 5.9)] * 3), specimen="W-2", performed=moment(n), worn=f"{km} km"))
    text = page(technician, "wear-detail", "W-2")
    assert "Too few to say" in text
    assert "there are 2 tests at 2 distances" in text


def test_specimen_without_a_scored_test_is_shown_empty(technician, lab):
    lab.upload(bench_bytes(["torsion,1,loading,0,0", "torsion,1,loading,9,3"]))
    assert "No test of this specimen is scored" in page(technician, "wear-detail", "F2-01")


@pytest.mark.parametrize("name", ["check-detail", "wear-detail"])
def test_what_is_not_there_is_404(technician, name):
    assert technician.get(reverse(f"labtests:{name}", args=["no-such"])).status_code == 404


def queries_of(client, name, *args, **query):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as found:
        page(client, name, *args, **query)
    return len(found)


def test_pages_take_the_same_queries_however_much_there_is(technician, charted):
    before = queries_of(technician, "check-detail", "rig-1"), queries_of(technician, "check-home")
    for day in range(20, 26):
        measured(charted, "CHK-1", 5.1 + 0.01 * (-1) ** day, moment(day))
        measured(charted, f"F2-{day}", 5.1, moment(day, 9))
    for number in (2, 3, 4):
        services.rig_create(actor=charted.reviewer, code=f"rig-{number}")
    assert Rig.objects.count() == 4
    assert (queries_of(technician, "check-detail", "rig-1"), queries_of(technician, "check-home")) == before


def test_study_page_takes_the_same_queries_complete_or_not(technician, lab, study):
    before = queries_of(technician, "study-detail", study.pk)
    measured(lab, "G-2", 5.05, moment(9), operator="technician-b", deflection=5.91)
    assert queries_of(technician, "study-detail", study.pk) == before


def test_comparison_takes_the_same_queries_for_one_specimen_or_two(technician, three_rigs):
    one = queries_of(technician, "precision-detail", specimen="P-1")
    assert queries_of(technician, "precision-detail") == one


def test_wear_page_takes_few_queries(technician, worn):
    assert queries_of(technician, "wear-detail", "W-1") <= 8
