from __future__ import annotations

import datetime as dt

import pytest

from tests.shared import shared

BODY_KEYS = [
    "slug", "brand", "name", "version", "use", "mass_g", "drop_mm", "stack_heel_mm", "scores", "band", "specimens",
    "tested_on", "scoring_model", "stores",
    # What the second round added.
    "stack_forefoot_mm", "wearer", "widths", "smallest_size_eu", "largest_size_eu", "stated_size_eu", "price", "prices",
    "season", "removable_insole", "discontinued", "state",
    # What the public face added.
    "photo",
]  # fmt: skip

# Of scores with unlimited degrees of freedom.
TWO = {"coverage_factor": 2.0, "degrees_of_freedom": None}


@shared
def shoes(make_shoe, make_store, put_in_stock):
    put_in_stock(make_store(), make_shoe("light", stability=55.0, name="Sedge", version="3"), "42.5", "42", "43")
    make_shoe("firm", stability=75.0, use="walking", mass_g=None)


@pytest.mark.usefixtures("shoes")
def test_shoe_has_the_body_of_the_design(client):
    body = client.get("/api/catalogue/shoes/light/").json()
    assert sorted(body) == sorted(BODY_KEYS)
    assert body == {
        "slug": "light",
        "brand": "Corvane",
        "name": "Sedge",
        "version": "3",
        "use": "running",
        "mass_g": 280.0,
        "drop_mm": 8.0,
        "stack_heel_mm": 34.0,
        "scores": {
            "stability": {"value": 55.0, "expanded_uncertainty": 2.0, "estimated": False} | TWO,
            "midfoot": {"value": 57.0, "expanded_uncertainty": 2.4, "estimated": False} | TWO,
            "rearfoot": {"value": 53.0, "expanded_uncertainty": 2.8, "estimated": False} | TWO,
            "cushioning": {"value": 60.0, "expanded_uncertainty": 1.6, "estimated": False} | TWO,
        },
        "band": {"order": 2, "name": "Little hold", "probability": 0.97, "borderline": False, "provisional": False},
        "specimens": 2,
        "tested_on": dt.date(2026, 3, 4).isoformat(),
        "scoring_model": "S1",
        "stores": [{"slug": "harbour", "sizes": ["EU 42", "EU 42.5", "EU 43"]}],
        "stack_forefoot_mm": 26.0,
        "wearer": "all",
        "widths": [],
        "smallest_size_eu": None,
        "largest_size_eu": None,
        "stated_size_eu": None,
        "price": None,
        "prices": {},
        "season": "",
        "removable_insole": None,
        "discontinued": False,
        "state": "published",
        "photo": None,
    }


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize(
    ("query", "slugs"),
    [
        ("", ["light", "firm"]),
        ("order=-stability", ["firm", "light"]),
        ("band=4", ["firm"]),
        ("use=walking&midfoot_min=70", ["firm"]),
        ("size=42.5&store=harbour", ["light"]),
        ("mass_max=300", ["light"]),
        ("q=sedge", ["light"]),
        ("band=5", []),
    ],
)
def test_list_takes_the_filters_of_the_page(client, query, slugs):
    body = client.get(f"/api/catalogue/shoes/?{query}").json()
    assert list(body) == ["count", "next", "previous", "results"]
    assert (body["count"], [shoe["slug"] for shoe in body["results"]]) == (len(slugs), slugs)


@pytest.mark.usefixtures("shoes")
def test_list_is_paged_both_ways_with_the_filters_kept(client):
    first = client.get("/api/catalogue/shoes/?page_size=1&order=-stability").json()
    assert (first["count"], first["previous"], len(first["results"])) == (2, None, 1)
    second = client.get(first["next"]).json()
    assert second["next"] is None
    assert [part["results"][0]["slug"] for part in (first, second)] == ["firm", "light"]
    assert client.get(second["previous"]).json() == first


@pytest.mark.usefixtures("shoes")
def test_similar_shows_distance_and_differences(client):
    body = client.get("/api/catalogue/shoes/light/similar/").json()
    assert body["count"] == 1
    near = body["results"][0]
    assert near["slug"] == "firm"
    assert near["distance"] > 0
    answer = {part["feature"]: part for part in near["differences"]}
    assert answer["stability"]["difference"] == 20.0
    assert answer["stability"]["verdict"] == "beyond"
    assert answer["mass_g"] == {
        "feature": "mass_g", "here": 280.0, "there": None, "difference": None, "expanded_uncertainty": None,
        "coverage_factor": None, "degrees_of_freedom": None,
        "verdict": "missing",
    }  # fmt: skip


@pytest.mark.usefixtures("shoes")
def test_bands_show_limits_and_carry_the_cautions(client):
    body = client.get("/api/catalogue/bands/").json()
    assert [(band["order"], band["name"], band["lower"], band["upper"], band["shoes"]) for band in body["results"]] == [
        (1, "Very little hold", None, 50.0, 0),
        (2, "Little hold", 50.0, 60.0, 1),
        (3, "Medium hold", 60.0, 70.0, 0),
        (4, "Strong hold", 70.0, 80.0, 1),
        (5, "Very strong hold", 80.0, None, 0),
    ]
    assert any("licensed clinician" in caution for caution in body["cautions"])
    assert any("has no published source" in caution for caution in body["cautions"])


@pytest.mark.usefixtures("shoes")
def test_stores_are_listed(client):
    (store,) = client.get("/api/catalogue/stores/").json()["results"]
    assert (store["slug"], store["name"], store["shoes"]) == ("harbour", "Harbour", 1)


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize(
    ("address", "field"),
    [
        ("shoes/?mass_max=heavy", "mass_max"),
        ("shoes/?page=0", "page"),
        ("shoes/?page_size=none", "page_size"),
        ("bands/?page=0", "page"),
        ("stores/?page=x", "page"),
    ],
)
def test_bad_query_is_a_400_that_names_the_field(client, address, field):
    response = client.get(f"/api/catalogue/{address}")
    assert response.status_code == 400
    body = response.json()
    assert (set(body), body["code"], list(body["fields"])) == ({"detail", "code", "fields"}, "bad_query", [field])
    assert field in body["detail"]
    assert body["fields"][field][0] in body["detail"]


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize("address", ["shoes/?page=2", "shoes/light/similar/?page=9", "bands/?page=9", "stores/?page=2"])
def test_page_after_the_last_one_is_a_404_that_names_it(client, address):
    response = client.get(f"/api/catalogue/{address}")
    body = response.json()
    assert (response.status_code, body["code"], list(body["fields"])) == (404, "no_such_page", ["page"])
    assert "the last one" in body["detail"]


@pytest.mark.parametrize("address", ["shoes/none/", "shoes/none/similar/"])
def test_unknown_shoe_is_a_404_with_a_body(client, db, address):
    response = client.get(f"/api/catalogue/{address}")
    assert response.status_code == 404
    assert response.json()["code"] == "not_found"


@pytest.mark.usefixtures("shoes")
def test_anybody_may_read_and_a_store_may_not_write(client, api_for, cast):
    assert api_for(cast.fitter_b).get("/api/catalogue/shoes/").status_code == 200
    assert api_for(cast.fitter_b).post("/api/catalogue/shoes/", {}, format="json").status_code == 403
    assert api_for(cast.office).delete("/api/catalogue/shoes/light/").status_code == 405
    assert client.get("/api/catalogue/shoes/", headers={"Authorization": "Token wrong"}).status_code == 401


@pytest.mark.usefixtures("shoes")
def test_bodies_agree_with_the_schema_that_is_published(client):
    from catalogue.api import bodies

    found = client.get("/api/catalogue/shoes/light/similar/").json()["results"][0]
    assert set(bodies.ShoeBody().fields) == set(BODY_KEYS)
    assert set(bodies.SimilarBody().fields) == set(found)
    assert set(bodies.BandBody().fields) == set(client.get("/api/catalogue/bands/").json()["results"][0])
    assert set(bodies.StoreBody().fields) == set(client.get("/api/catalogue/stores/").json()["results"][0])
    assert set(bodies.CatalogueProblem().fields) == {"detail", "code", "fields"}
