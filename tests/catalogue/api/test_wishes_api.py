"""Shoes that stores ask for, over the API: asked in the own store, answered by the lab."""

from __future__ import annotations

import pytest

WISHES, OWN = "/api/catalogue/wishes/", "/api/catalogue/stores/store-a/wishes/"
WISH = {"brand": "Odderby", "name": "Fen 4", "note": "asked for twice"}


@pytest.fixture
def store(cast, api_for):
    return api_for(cast.fitter_a)


@pytest.fixture
def lab(cast, api_for):
    return api_for(cast.technician)


def test_wish_is_asked_once_and_answered_with_a_shoe(store, lab, make_shoe):
    make_shoe("odderby-fen-4", published=False)
    asked = store.post(OWN, WISH, format="json")
    assert (asked.status_code, asked.json()["state"], asked.json()["store"]) == (201, "open", "store-a")
    assert store.post(OWN, WISH, format="json").json()["code"] == "asked_already"
    address = f"{WISHES}{asked.json()['id']}/"
    unknown = lab.post(f"{address}done/", {"shoe": "no-such"}, format="json")
    assert (unknown.status_code, list(unknown.json()["fields"])) == (400, ["shoe"])
    done = lab.post(f"{address}done/", {"shoe": "odderby-fen-4"}, format="json").json()
    assert (done["state"], done["shoe"], done["decided_by"]) == ("done", "odderby-fen-4", "technician")
    assert lab.get(WISHES, {"state": "open"}).json()["count"] == 0
    assert store.get(OWN).json()["results"] == [done]


def test_declining_needs_a_reason_and_no_unknown_key(store, lab):
    pk = store.post(OWN, WISH, format="json").json()["id"]
    assert lab.post(f"{WISHES}{pk}/decline/", {"why": "no"}, format="json").status_code == 400
    assert lab.post(f"{WISHES}{pk}/decline/", {"reason": "not made"}, format="json").json()["state"] == "declined"


def test_store_sees_its_own_wishes_alone(store, cast, api_for):
    store.post(OWN, WISH, format="json")
    other = api_for(cast.fitter_b)
    assert other.get(OWN).status_code == 404
    assert other.get("/api/catalogue/stores/store-b/wishes/").json()["count"] == 0
    assert store.get(WISHES).status_code == 403
