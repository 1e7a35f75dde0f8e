"""The API of recommendations: why a shoe is named, why not, and how many."""

from __future__ import annotations

import pytest

URL = "/api/fittings/"


def post(client, body, url=URL):
    return client.post(url, body, format="json")


@pytest.fixture
def fitter(api_for, cast):
    return api_for(cast.fitter_a)


def test_recommendations_say_why_and_why_not(fitter, body, make_shoe, cast, django_assert_num_queries):
    make_shoe("middle", 71.0, stock={cast.store_a: ["42.0", "42.5", "45"], cast.store_b: ["42.5"]})
    make_shoe("sister", 72.0, stock={cast.store_b: ["42.5"]}, drop_mm=13.0)
    make_shoe("soft", 55.0)
    make_shoe("hidden", 71.0, published=False)
    make_shoe("walker", 71.0, use="walking")
    make_shoe("worn", 60.0, drop_mm=8.0)
    pk = post(fitter, body(current_shoe="worn")).json()["id"]
    # token (3), memberships, fitting, feet, candidates, shoes, stock, the reply of a clinician
    with django_assert_num_queries(9):
        found = fitter.get(f"{URL}{pk}/recommendations/").json()
    assert found["target"] == {"rules": "N1", "centre": 71, "low": 65, "high": 77, "size": "EU 42.5"}
    assert found["nothing_in_range"] is False
    first, second = found["results"]
    assert (first["slug"], second["slug"]) == ("middle", "sister")
    assert first["band"]["order"] == 4
    assert first["probability"] == pytest.approx(1.0, abs=1e-6)
    assert first["in_stock"] == [
        {"store": "store-a", "sizes": ["EU 42", "EU 42.5"]},
        {"store": "store-b", "sizes": ["EU 42.5"]},
    ]
    assert any("in stock here" in words for words in first["reasons"])
    assert any(words.startswith("Drop 13 mm, 5.0 mm more") for words in second["warnings"])
    assert any("The right foot is the wider one, 101 mm." in words for words in found["cautions"])
    why = {item["slug"]: item["why"] for item in found["left_out"]}
    assert set(why) == {"soft", "walker", "worn"}
    assert "below the target" in why["soft"]
    assert "Made for walking" in why["walker"]


def test_probability_follows_from_the_uncertainty(fitter, body, make_shoe):
    make_shoe("edge", 77.0, u=2.0)
    make_shoe("unknown", 71.0, u=None)
    pk = post(fitter, body()).json()["id"]
    found = {item["slug"]: item for item in fitter.get(f"{URL}{pk}/recommendations/").json()["results"]}
    assert found["edge"]["probability"] == pytest.approx(0.5, abs=1e-8)
    assert found["unknown"]["probability"] is None


def test_nothing_in_range_gives_the_nearest_named_as_outside(fitter, body, make_shoe):
    make_shoe("far", 51.0)
    make_shoe("near", 60.0)
    pk = post(fitter, body()).json()["id"]
    found = fitter.get(f"{URL}{pk}/recommendations/").json()
    assert found["nothing_in_range"] is True
    assert [item["slug"] for item in found["results"]] == ["near", "far"]
    assert found["results"][0]["warnings"][0] == "Outside the target by 5.0"


def test_limit_is_kept(fitter, body, make_shoe):
    for number in range(4):
        make_shoe(f"shoe-{number}", 70.0 + number / 10)
    pk = post(fitter, body()).json()["id"]
    assert len(fitter.get(f"{URL}{pk}/recommendations/?limit=2").json()["results"]) == 2
    asked = fitter.get(f"{URL}{pk}/recommendations/?limit=1&shoe=shoe-2").json()["left_out"]
    assert asked[0]["slug"] == "shoe-2"


@pytest.mark.parametrize("limit", ["0", "-1", "ten", "101", "1e3", "", "٣", "9" * 30])
def test_a_bad_limit_is_refused(fitter, body, limit):
    pk = post(fitter, body()).json()["id"]
    response = fitter.get(f"{URL}{pk}/recommendations/", {"limit": limit})
    assert response.status_code == 400
    assert "limit" in response.json()["fields"]
