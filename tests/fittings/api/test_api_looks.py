"""Looks in motion through the API: with a fitting, added to it, and what is refused."""

from __future__ import annotations

import pytest

from fittings.models import Fitting, LookFoot

URL = "/api/fittings/"
BAREFOOT = {"gait": "running", "worn": "barefoot", "left": {"pronation": 2, "rearfoot_eversion_deg": 4.0}}
SHOE = {"gait": "running", "worn": "candidate", "shoe": "tried", "left": {"pronation": 1, "rearfoot_eversion_deg": 3.5}}


def post(client, body, url=URL):
    return client.post(url, body, format="json")


@pytest.fixture
def fitter(api_for, cast):
    return api_for(cast.fitter_a)


def test_looks_change_nothing_of_the_need_and_say_what_a_shoe_changed(fitter, body, make_shoe):
    make_shoe("tried")
    plain = post(fitter, body()).json()
    made = post(fitter, body(looks=[BAREFOOT, SHOE]))
    assert made.status_code == 201, made.content
    assert made.json()["need"] == plain["need"]
    answer = fitter.get(f"{URL}{made.json()['id']}/looks/").json()
    assert [(look["gait"], look["worn"], look["shoe"]) for look in answer["looks"]] == [
        ("running", "barefoot", None),
        ("running", "candidate", "tried"),
    ]
    left = answer["looks"][1]["left"]
    assert (left["pronation"], left["rearfoot_eversion"], left["rearfoot_eversion_deg"]) == (1, 1, 3.5)
    assert answer["changes"] == [
        {"gait": "running", "worn": "candidate", "shoe": "tried", "movement": "better", "signs_compared": 2}
    ]
    assert answer["cautions"]


def test_looks_are_added_to_a_fitting_once(fitter, body):
    url = f"{URL}{post(fitter, body()).json()['id']}/looks/"
    assert post(fitter, {"looks": [BAREFOOT]}, url).json()["looks"][0]["by"]
    again = post(fitter, {"looks": [BAREFOOT]}, url)
    assert (again.status_code, list(again.json()["fields"])) == (400, ["looks.0.worn"])
    assert LookFoot.objects.count() == 2


@pytest.mark.parametrize(
    "look",
    [
        BAREFOOT | {"gait": "hopping"},
        BAREFOOT | {"worn": "sandals"},
        BAREFOOT | {"shoe": "tried"},
        BAREFOOT | {"gait": "walking"},
        BAREFOOT | {"left": {"pronation": 4}},
        BAREFOOT | {"left": {"pronation_deg": 90}},
        BAREFOOT | {"left": {"pronation": 0, "pronation_deg": 12.0}},
        BAREFOOT | {"left": None},
        BAREFOOT | {"knee": 1},
        SHOE | {"shoe": "missing"},
        SHOE | {"shoe": None},
        SHOE | {"shoe": "a\x00b"},
        "running",
    ],
)
def test_bad_looks_are_refused_and_nothing_is_stored(fitter, body, look):
    answer = post(fitter, body(looks=[look]))
    assert answer.status_code == 400
    assert answer.json()["fields"]
    assert not Fitting.objects.exists()


def test_other_stores_and_fittings_without_consent(api_for, cast, fitter, body):
    url = f"{URL}{post(fitter, body()).json()['id']}/looks/"
    for client in (api_for(cast.fitter_b), api_for(cast.technician), api_for(cast.office)):
        assert client.get(url).status_code in (403, 404)
        assert post(client, {"looks": [BAREFOOT]}, url).status_code in (403, 404)
    empty = post(fitter, body(customer={"consent": False}, looks=[BAREFOOT])).json()["id"]
    assert not LookFoot.objects.exists()
    assert post(fitter, {"looks": [BAREFOOT]}, f"{URL}{empty}/looks/").status_code == 409


def test_look_is_corrected_once_and_what_it_was_stays_readable(api_for, cast, fitter, body, make_shoe):
    make_shoe("tried")
    url = f"{URL}{post(fitter, body(looks=[BAREFOOT, SHOE])).json()['id']}/looks/"
    number = fitter.get(url).json()["looks"][1]["id"]
    correct = f"{url}{number}/correct/"
    look = SHOE | {"left": {"pronation": 3}}
    for bad in ({}, {"look": look}, {"look": look, "reason": ""}, {"look": {"gait": "x"}, "reason": "Mis-tap."}):
        assert post(fitter, bad, correct).status_code == 400
    assert post(api_for(cast.fitter_b), {"look": look, "reason": "Mis-tap."}, correct).status_code == 404
    answer = post(fitter, {"look": look, "reason": "Mis-tap."}, correct)
    assert answer.status_code == 200, answer.content
    assert [change["movement"] for change in answer.json()["changes"]] == ["worse"]
    (was,) = answer.json()["corrected"]
    assert (was["was"]["left"]["pronation"], was["reason"]) == (1, "Mis-tap.")
    assert post(fitter, {"look": look, "reason": "Mis-tap."}, correct).json()["code"] == "already_corrected"
    newest = answer.json()["looks"][1]["id"]
    assert len(post(fitter, {"look": None, "reason": "Not seen."}, f"{url}{newest}/correct/").json()["looks"]) == 1
