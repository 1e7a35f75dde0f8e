"""The API of follow-ups: due list, answers, recurrence, and what is refused."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from django.utils import timezone

from fittings.domain.regions import Complaint
from fittings.models import FollowUp, PainReport

URL = "/api/follow-ups/"


@pytest.fixture
def fitter(api_for, cast):
    return api_for(cast.fitter_a)


def ago(**span):
    return timezone.now() - dt.timedelta(**span)


def post(client, pk, body):
    return client.post(f"{URL}{pk}/answer/", body, format="json")


def answer_of(**changes):
    return {
        "wearing": True,
        "distance_km_week": 25,
        "comfort": 8,
        "pain": [{"region": "heel", "side": "left", "score": 4}],
        "overuse": [8, 8, 8, 17],
        "days_off": 2,
    } | changes


def test_due_list_holds_what_is_due_and_open_in_own_stores(fitter, chosen, api_for, cast, django_assert_num_queries):
    chosen(at=ago(weeks=7))  # the 6-week one is due, the 2-week one was missed
    chosen(at=ago(weeks=3), name="Bea Example")
    with django_assert_num_queries(5):  # token, its renewal and note, memberships, count, page
        due = fitter.get(f"{URL}?due=true").json()
    assert [item["weeks"] for item in due["results"]] == [6, 2]
    assert set(due["results"][0]) == {"id", "fitting", "store", "shoe", "weeks", "due_on", "answered"}
    assert fitter.get(URL).json()["count"] == fitter.get(f"{URL}?due=false").json()["count"] == 10
    assert api_for(cast.fitter_b).get(URL).json()["count"] == 0


BAD_QUERIES = [
    *(("due", value) for value in ("perhaps", "2", "1", "True", "", "\x00", "null")),
    *(("page", value) for value in ("0", "-1", "x", "", "null", "1.0", "٣", "9" * 30)),
    *(("page_size", value) for value in ("0", "-1", "x", "", "null", "501", " 5")),
    *(("until", ""), ("limit", "5"), ("rearfoot_eversion", "1")),
]


@pytest.mark.parametrize(("key", "value"), BAD_QUERIES)
def test_a_query_outside_the_schema_is_refused_by_its_key(fitter, key, value):
    response = fitter.get(URL, {key: value})
    assert response.status_code == 400, response.content
    assert list(response.json()["fields"]) == [key]
    assert key in response.json()["detail"]


def test_a_query_key_given_twice_is_refused(fitter):
    response = fitter.get(f"{URL}?page=1&page=2")
    assert (response.status_code, list(response.json()["fields"])) == (400, ["page"])


@pytest.mark.parametrize(("query", "status"), [("page=99", 404), ("page=1&page_size=500&due=false", 200)])
def test_paging_within_the_schema(fitter, query, status):
    assert fitter.get(f"{URL}?{query}").status_code == status


def test_answer_gives_overuse_total_and_recurrence(fitter, chosen):
    settled = timezone.localdate() - dt.timedelta(days=30)
    fitting = chosen(at=ago(weeks=3), history=(Complaint("heel", "left", False, settled),))
    first = fitting.follow_ups.get(weeks=2)
    response = post(fitter, first.pk, answer_of())
    assert response.status_code == 200, response.content
    answer = response.json()
    assert (answer["overuse_total"], answer["recurrence"]) == (41, "early")
    assert answer["overuse_substantial"] is False
    assert "Heel, left: settled on" in answer["reasoning"]
    assert any("association" in words for words in answer["cautions"])
    kept = FollowUp.objects.get(pk=first.pk)
    assert (kept.wearing, kept.distance_km_week, kept.comfort, kept.days_off) == (True, 25, 8, 2)
    assert (kept.overuse, kept.overuse_total, kept.recurrence) == ([8, 8, 8, 17], 41, "early")
    assert kept.free_of_complaints is False
    assert kept.answered_by.username == "fitter-a"
    assert PainReport.objects.get(follow_up=kept).score == 4


@pytest.mark.parametrize(("days", "kind"), [(20, "early"), (200, "late"), (500, "delayed")])
def test_recurrence_follows_the_time_since_it_settled(fitter, chosen, days, kind):
    settled = timezone.localdate() - dt.timedelta(days=days)
    fitting = chosen(at=ago(days=1), history=(Complaint("heel", "left", False, settled),))
    assert post(fitter, fitting.follow_ups.first().pk, answer_of()).json()["recurrence"] == kind


def test_other_side_is_no_recurrence(fitter, chosen):
    pk = chosen(at=ago(weeks=3)).follow_ups.get(weeks=2).pk
    assert (
        post(fitter, pk, answer_of(pain=[{"region": "heel", "side": "right", "score": 4}])).json()["recurrence"] is None
    )


def test_pain_there_at_the_fitting_comes_back_only_after_it_was_gone(fitter, chosen):
    fitting = chosen(at=ago(weeks=13), history=(Complaint("heel", "left", now=True),))
    first, second, third, *_ = fitting.follow_ups.order_by("weeks")
    assert post(fitter, first.pk, answer_of()).json()["recurrence"] is None
    assert post(fitter, second.pk, answer_of(pain=[], nothing_hurts=True)).json()["recurrence"] is None
    assert post(fitter, third.pk, answer_of()).json()["recurrence"] == "early"


@pytest.mark.parametrize(
    "body", [{}, {"wearing": None, "pain": None, "overuse": None}, {"pain": [], "nothing_hurts": None}]
)
def test_an_answer_without_any_answer_is_refused(fitter, chosen, body):
    pk = chosen(at=ago(weeks=3)).follow_ups.get(weeks=2).pk
    response = post(fitter, pk, body)
    assert (response.status_code, response.json()["code"]) == (400, "empty")
    assert FollowUp.objects.answered().count() == 0


def test_missing_stays_missing(fitter, chosen):
    pk = chosen(at=ago(weeks=3)).follow_ups.get(weeks=2).pk
    answer = post(fitter, pk, {"nothing_hurts": True}).json()
    assert (answer["overuse_total"], answer["recurrence"]) == (None, None)
    kept = FollowUp.objects.get(pk=pk)
    assert (kept.wearing, kept.comfort, kept.days_off, kept.overuse) == (None, None, None, None)
    assert kept.free_of_complaints is True


def test_pain_not_answered_does_not_count_as_free_of_pain(fitter, chosen):
    fitting = chosen(at=ago(weeks=13), history=(Complaint("heel", "left", now=True),))
    first, second, *_ = fitting.follow_ups.order_by("weeks")
    post(fitter, first.pk, {"wearing": True})
    assert FollowUp.objects.get(pk=first.pk).free_of_complaints is None
    assert post(fitter, second.pk, answer_of()).json()["recurrence"] is None


@pytest.mark.parametrize(
    ("given", "assessed", "free"),
    [
        ({}, False, None),
        ({"pain": []}, False, None),
        ({"pain": None, "nothing_hurts": None}, False, None),
        ({"nothing_hurts": True}, True, True),
        ({"pain": [], "nothing_hurts": True}, True, True),
        ({"nothing_hurts": False}, True, None),
        ({"pain": [{"region": "heel", "side": "left", "score": 0}]}, True, True),
        # Pain elsewhere says nothing of the heel that had hurt before.
        ({"pain": [{"region": "knee", "score": 2}]}, True, None),
        ({"pain": [{"region": "knee", "score": 2}, {"region": "heel", "side": "left", "score": 0}]}, True, True),
    ],
)
def test_pain_is_assessed_only_where_it_was_answered(fitter, chosen, given, assessed, free):
    pk = chosen(at=ago(weeks=3)).follow_ups.get(weeks=2).pk
    answer = post(fitter, pk, {"wearing": True} | given).json()
    assert answer["assessed"] is assessed
    kept = FollowUp.objects.get(pk=pk)
    assert kept.free_of_complaints is free
    assert (answer["refer"], answer["advice"]) == (False, [])


def test_nothing_hurts_contradicts_a_place_that_hurts(fitter, chosen):
    pk = chosen(at=ago(weeks=3)).follow_ups.get(weeks=2).pk
    response = post(fitter, pk, answer_of(nothing_hurts=True))
    assert (response.status_code, list(response.json()["fields"])) == (400, ["nothing_hurts"])
    assert FollowUp.objects.answered().count() == 0
    zero = [{"region": "heel", "side": "left", "score": 0}]
    assert post(fitter, pk, answer_of(nothing_hurts=True, pain=zero)).status_code == 200


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"pain": [{"region": "knee", "score": 5}]}, "pain was 5 of 10"),
        ({"pain": [{"region": "heel", "side": "left", "score": 1}]}, "has come back"),
        ({"pain": [], "days_off": 7}, "on 7 days"),
    ],
)
def test_answers_that_need_a_clinician_are_referred(fitter, chosen, given, words):
    pk = chosen(at=ago(weeks=3)).follow_ups.get(weeks=2).pk
    answer = post(fitter, pk, {"days_off": 6} | given).json()
    assert answer["refer"] is True
    assert words in answer["advice"][0]
    assert "licensed clinician" in answer["advice"][-1]


def test_second_answer_is_refused(fitter, chosen):
    pk = chosen(at=ago(weeks=3)).follow_ups.get(weeks=2).pk
    assert post(fitter, pk, answer_of()).status_code == 200
    response = post(fitter, pk, answer_of())
    assert (response.status_code, response.json()["code"]) == (409, "already_answered")
    assert PainReport.objects.count() == 1


def test_other_store_finds_no_such_follow_up(chosen, api_for, cast):
    pk = chosen(at=ago(weeks=3)).follow_ups.get(weeks=2).pk
    assert post(api_for(cast.fitter_b), pk, answer_of()).status_code == 404
    assert post(api_for(cast.fitter_a), 10**25, answer_of()).status_code == 404


BAD = [
    ({"wearing": "perhaps"}, "wearing"),
    ({"distance_km_week": -1}, "distance_km_week"),
    ({"distance_km_week": "nan"}, "distance_km_week"),
    ({"comfort": 11}, "comfort"),
    ({"comfort": True}, "comfort"),
    ({"days_off": -1}, "days_off"),
    ({"days_off": 1.5}, "days_off"),
    ({"overuse": [0, 13, 0, 0]}, "overuse"),
    ({"overuse": [0, 0, 0]}, "overuse"),
    ({"overuse": [0, 0, 0, 0, 0]}, "overuse"),
    ({"overuse": [0, 0, 0, None]}, "overuse"),
    ({"overuse": "0,0,0,0"}, "overuse"),
    ({"overuse": ["0", 0, 0, 0]}, "overuse"),
    ({"wearing": "true"}, "wearing"),
    ({"comfort": "8"}, "comfort"),
    ({"pains": []}, "pains"),
    ({"pain": [{"region": "heel", "score": 1, "colour": "red"}]}, "pain"),
    ({"pain": {"region": "heel"}}, "pain"),
    ({"pain": [{"region": "tail", "score": 1}]}, "pain"),
    ({"pain": [{"region": "heel", "side": "up", "score": 1}]}, "pain"),
    ({"pain": [{"region": "heel"}]}, "pain"),
    ({"pain": [{"region": "heel", "score": 11}]}, "pain"),
    ({"pain": [{"region": "heel", "score": 1}] * 31}, "pain"),
]


@pytest.mark.parametrize(("change", "field"), BAD, ids=lambda value: json.dumps(value)[:50])
def test_a_bad_answer_is_refused_by_its_field_and_nothing_is_kept(fitter, chosen, change, field):
    pk = chosen(at=ago(weeks=3)).follow_ups.get(weeks=2).pk
    response = post(fitter, pk, answer_of(**change))
    assert response.status_code == 400, response.content
    assert field in response.json()["fields"]
    assert FollowUp.objects.answered().count() == 0


@pytest.mark.parametrize("raw", ["", "[]", "null", "7", "{"])
def test_a_body_that_is_no_answer_is_refused(fitter, chosen, raw):
    pk = chosen(at=ago(weeks=3)).follow_ups.get(weeks=2).pk
    response = fitter.post(f"{URL}{pk}/answer/", raw, content_type="application/json")
    assert response.status_code == 400, response.content
