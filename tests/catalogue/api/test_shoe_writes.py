"""Adding and correcting brands and shoes by the API."""

from __future__ import annotations

import pytest

from catalogue.models import Brand, Shoe
from catalogue.services import shoe_merge
from core import audit

SHOES = "/api/catalogue/shoes/"
BRANDS = "/api/catalogue/brands/"


@pytest.fixture
def lab(cast, api_for):
    return api_for(cast.technician)


@pytest.fixture
def brand(lab):
    return lab.post(BRANDS, {"name": "Odderby"}, format="json").json()


@pytest.fixture
def draft(lab, brand):
    body = {"brand": brand["slug"], "name": "Fen", "version": "1", "use": "running"}
    response = lab.post(SHOES, body, format="json")
    assert response.status_code == 201, response.content
    return response.json()


def test_brand_is_added(brand):
    assert brand == {"slug": "odderby", "name": "Odderby"}


def test_brand_twice_is_a_conflict_that_names_it(lab, brand):
    response = lab.post(BRANDS, {"name": "odderby"}, format="json")
    assert (response.status_code, response.json()["code"]) == (409, "doublet")
    assert "Odderby" in response.json()["detail"]


def test_shoe_is_added_as_a_draft_with_everything_stated(lab, brand, draft):
    stated = {
        "brand": "odderby",
        "name": "Marsh",
        "version": "2",
        "use": "walking",
        "wearer": "women",
        "mass_g": 263.5,
        "stack_heel_mm": 33,
        "stack_forefoot_mm": 25.5,
        "stated_size_eu": 38,
        "smallest_size_eu": 36,
        "largest_size_eu": 42.5,
        "widths": ["B", "D"],
        "price": 139.9,
        "season": "autumn 2027",
        "removable_insole": True,
        "previous": "odderby-fen-1",
        "note": "arrives in May",
        "alternative_names": ["Bog"],
        "barcodes": [{"gtin": "4001234567891", "size_eu": 38, "width": "B"}],
    }
    response = lab.post(SHOES, stated, format="json")
    assert response.status_code == 201, response.content
    assert response.headers["Cache-Control"] == "private, no-store"
    made = response.json()
    same = stated.keys() - {"brand"}
    assert {name: made[name] for name in same} == {name: stated[name] for name in same}
    assert (made["slug"], made["brand"], made["state"], made["drop_mm"]) == ("odderby-marsh-2", "Odderby", "draft", 7.5)
    assert (made["prices"], made["scores"], made["band"]) == ({"EUR": 139.9}, None, None)


def test_all_but_brand_name_and_use_may_be_left_out(draft):
    assert (draft["wearer"], draft["widths"], draft["price"], draft["state"]) == ("all", [], None, "draft")
    assert draft["removable_insole"] is None


@pytest.mark.parametrize("missing", ["brand", "name", "use"])
def test_what_is_needed_is_named(lab, brand, missing):
    body = {"brand": "odderby", "name": "Fen", "use": "running"}
    del body[missing]
    response = lab.post(SHOES, body, format="json")
    assert response.status_code == 400
    assert list(response.json()["fields"]) == [missing]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("colour", "red"),
        ("wearer", "dogs"),
        ("use", "flying"),
        ("mass_g", "280"),
        ("mass_g", 3),
        ("mass_g", True),
        ("stack_heel_mm", 500),
        ("widths", "D"),
        ("widths", ["D" * 40]),
        ("price", -3),
        ("price", "cheap"),
        ("price", {"XYZ": 3}),
        ("price", [1]),
        ("removable_insole", "yes"),
        ("previous", "no-such"),
        ("brand", "no-such"),
        ("name", "Fen\n1"),
        ("name", "Fen\x00"),
        ("name", ""),
        ("barcodes", [{"gtin": "4001234567890", "size_eu": 38}]),
        ("barcodes", [{"gtin": "4001234567891"}]),
        ("stated_size_eu", 400),
    ],
)
def test_bad_values_are_refused_naming_the_field(lab, brand, field, value):
    body = {"brand": "odderby", "name": "Fen", "use": "running", field: value}
    response = lab.post(SHOES, body, format="json")
    assert response.status_code == 400, response.content
    assert list(response.json()["fields"]) in ([field], ["list_prices"])
    assert not Shoe.objects.exists()


@pytest.mark.parametrize("body", ["[]", "3", "null", '"text"', "{", '{"brand": {}, "name": [], "use": {}}'])
def test_bodies_that_are_no_object_are_refused(lab, body):
    response = lab.post(SHOES, body, content_type="application/json")
    assert response.status_code == 400


def test_shoe_twice_is_a_conflict_that_names_it(lab, draft):
    body = {"brand": "odderby", "name": "FEN", "version": "1", "use": "walking"}
    response = lab.post(SHOES, body, format="json")
    assert (response.status_code, response.json()["code"]) == (409, "doublet")
    assert "odderby-fen-1" in response.json()["detail"]


@pytest.mark.parametrize("who", ["fitter_a", "manager_a"])
def test_stores_may_not_add_or_correct_shoes(cast, api_for, draft, who):
    store = api_for(getattr(cast, who))
    assert store.post(BRANDS, {"name": "Other"}, format="json").status_code == 403
    assert store.post(SHOES, {}, format="json").status_code == 403
    assert store.patch(f"{SHOES}odderby-fen-1/", {"reason": "x"}, format="json").status_code == 403
    assert Brand.objects.count() == 1


@pytest.mark.parametrize("who", ["technician", "reviewer", "office"])
def test_lab_and_head_office_read_a_draft_that_visitors_do_not_see(cast, api_for, client, draft, who):
    response = api_for(getattr(cast, who)).get(f"{SHOES}odderby-fen-1/")
    assert (response.status_code, response.json()["state"]) == (200, "draft")
    assert client.get(f"{SHOES}odderby-fen-1/").status_code == 404
    assert api_for(cast.fitter_a).get(f"{SHOES}odderby-fen-1/").status_code == 404


def test_correction_is_recorded_and_the_answer_has_it(lab, draft, cast):
    body = {"mass_g": 291, "price": None, "widths": ["2E"], "discontinued": True, "reason": "weighed again"}
    response = lab.patch(f"{SHOES}odderby-fen-1/", body, format="json")
    assert response.status_code == 200, response.content
    now = response.json()
    assert (now["mass_g"], now["widths"], now["state"]) == (291, ["2E"], "discontinued")
    entry = audit.entries_of(Shoe.objects.get()).order_by("-id").first()
    assert (entry.content["reason"], entry.actor) == ("weighed again", cast.technician)


def test_correction_without_a_reason_is_refused(lab, draft):
    for body in ({"mass_g": 291}, {"mass_g": 291, "reason": " "}):
        response = lab.patch(f"{SHOES}odderby-fen-1/", body, format="json")
        assert (response.status_code, list(response.json()["fields"])) == (400, ["reason"])


def test_second_correction_of_the_same_edition_is_a_conflict(lab, draft):
    first = {"mass_g": 291, "reason": "one", "edition": draft["edition"]}
    second = {"season": "2027", "reason": "two", "edition": draft["edition"]}
    address = f"{SHOES}odderby-fen-1/"
    assert lab.patch(address, first, format="json").status_code == 200
    response = lab.patch(address, second, format="json")
    assert (response.status_code, response.json()["code"]) == (409, "overtaken")
    assert lab.patch(address, {"season": "2027", "reason": "without"}, format="json").status_code == 200


def test_changed_address_leads_to_the_new_one(lab, draft, client):
    response = lab.patch(f"{SHOES}odderby-fen-1/", {"slug": "fen-one", "reason": "shorter"}, format="json")
    assert response.json()["slug"] == "fen-one"
    led = client.get(f"{SHOES}odderby-fen-1/")
    assert (led.status_code, led.headers["Location"]) == (301, f"{SHOES}fen-one/")


def test_correction_at_an_earlier_address_changes_the_same_shoe_and_names_its_address(lab, draft):
    lab.patch(f"{SHOES}odderby-fen-1/", {"slug": "fen-one", "reason": "shorter"}, format="json")
    lab.patch(f"{SHOES}fen-one/", {"slug": "fen-1", "reason": "as the others"}, format="json")
    for address in ("odderby-fen-1", "fen-one"):
        response = lab.patch(f"{SHOES}{address}/", {"season": f"spring {address}", "reason": "typo"}, format="json")
        assert response.status_code == 200, response.content
        assert (response.json()["slug"], response.json()["season"]) == ("fen-1", f"spring {address}")
        assert response.headers["Content-Location"] == f"{SHOES}fen-1/"
    assert Shoe.objects.get().season == "spring fen-one"


def test_correction_of_a_merged_duplicate_is_refused_with_the_shoe_that_stays(lab, brand, draft, cast):
    other = lab.post(SHOES, {"brand": "odderby", "name": "Marsh", "use": "walking"}, format="json").json()
    gone, stays = Shoe.objects.get(slug="odderby-fen-1"), Shoe.objects.get(slug=other["slug"])
    shoe_merge(actor=cast.office, duplicate=gone, into=stays, reason="the same")
    response = lab.patch(f"{SHOES}odderby-fen-1/", {"season": "2027", "reason": "typo"}, format="json")
    assert (response.status_code, response.json()["code"]) == (409, "merged")
    assert other["slug"] in response.json()["detail"]
    stays.refresh_from_db()
    assert stays.season == ""


def test_unknown_shoe_can_not_be_corrected(lab):
    assert lab.patch(f"{SHOES}no-such/", {"reason": "x"}, format="json").status_code == 404


def test_published_shoe_says_what_is_stated_of_it(client, make_shoe):
    make_shoe(wearer="men", widths=["D"], season="2027", removable_insole=False, list_prices={"EUR": "99.5"})
    body = client.get(f"{SHOES}corvane-lantern-1/").json()
    assert (body["state"], body["wearer"], body["widths"], body["season"]) == ("published", "men", ["D"], "2027")
    assert (body["removable_insole"], body["price"], body["stack_forefoot_mm"]) == (False, 99.5, 26.0)
    assert client.get(SHOES).json()["results"] == [body]


def test_fault_in_one_of_several_texts_is_a_line_that_says_which(api_for, cast):
    shoe = {"brand": "none", "name": "A", "use": "running", "widths": ["D", " "]}
    body = api_for(cast.technician).post("/api/catalogue/shoes/", shoe, format="json").json()
    assert body["fields"] == {"widths": ["1: This field may not be blank."]}
