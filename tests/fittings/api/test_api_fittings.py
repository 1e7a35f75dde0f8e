"""The API of fittings: recording one, the need that it answers, and what is refused."""

from __future__ import annotations

import json
import uuid

import pytest

from fittings.models import Consent, Customer, Fitting

URL = "/api/fittings/"


def post(client, body, url=URL):
    return client.post(url, body, format="json")


@pytest.fixture
def fitter(api_for, cast):
    return api_for(cast.fitter_a)


def test_fitting_answers_the_need_with_every_contribution(fitter, body):
    response = post(fitter, body())
    assert response.status_code == 201, response.content
    answer = response.json()
    # 45 + pronation 12 + rotation 3 + heel 0 + posture index 7: 2 + 85 kg: 4 + past heel pain 5
    assert (answer["need"]["centre"], answer["need"]["low"], answer["need"]["high"]) == (71, 65, 77)
    assert answer["need"]["rules"] == "N1"
    assert sum(item["points"] for item in answer["need"]["contributions"]) == 71
    assert answer["refer"] is False
    assert answer["kept"] is True
    assert answer["size"] == "EU 42.5"
    assert any("Not a diagnosis" in words for words in answer["cautions"])
    kept = Fitting.objects.get(pk=answer["id"])
    assert (kept.need_centre, kept.rules.version, kept.size_eu) == (71, "N1", 42.5)
    assert [foot.foot for foot in kept.feet.all()] == ["left", "right"]
    assert kept.history.get().settled_on.isoformat() == "2025-01-31"
    assert Consent.objects.get(customer=kept.customer).text_version == "C2"


def test_same_person_is_found_again_and_consents_once(fitter, body):
    post(fitter, body())
    post(fitter, body(customer={"name": "ada example", "email": "ADA@example.org", "consent": True}))
    post(fitter, body(customer={"name": "Bea Example", "email": "ada@example.org", "consent": True}))
    assert Customer.objects.count() == 2
    assert Consent.objects.count() == 2
    assert Fitting.objects.count() == 3


def test_smallest_body_is_enough_and_missing_stays_missing(fitter, cast):
    answer = post(fitter, {"store": "store-a", "customer": {"name": "A", "consent": True}, "use": "walking"}).json()
    assert (answer["need"]["centre"], answer["need"]["low"], answer["need"]["high"]) == (45, 33, 57)
    assert answer["need"]["left_out"] == ["Pronation", "Tibial rotation", "Rearfoot eversion"]
    kept = Fitting.objects.get()
    assert (kept.body_mass_kg, kept.pain_now, kept.hip_weak, kept.size_eu) == (None, None, None, None)
    assert kept.feet.count() == 0


def test_null_everywhere_counts_as_missing(fitter):
    empty = {"store": "store-a", "customer": {"name": "A", "email": None, "consent": True}, "use": "standing"}
    names = ("body_mass_kg", "distance_km_week", "history", "pain_now", "stop_signs", "feet", "current_shoe")
    observation = {"left": {"pronation": None, "fpi6": None}, "right": None, "hip_weak": None}
    response = post(fitter, empty | dict.fromkeys(names) | {"observation": observation})
    assert response.status_code == 201, response.content


@pytest.mark.parametrize(
    ("given", "asked"),
    [
        ({}, False),
        ({"stop_signs_asked": None}, False),
        ({"stop_signs_asked": True}, True),
        ({"stop_signs": ["swelling"]}, True),
    ],
)
def test_stop_signs_count_as_asked_where_that_is_said_or_one_is_named(fitter, body, given, asked):
    assert post(fitter, body(**given)).status_code == 201
    assert Fitting.objects.get().stop_signs_asked is asked


@pytest.mark.parametrize(("pain", "refer"), [(None, False), (4, False), (5, True), (10, True)])
def test_strong_pain_now_refers(fitter, body, pain, refer):
    answer = post(fitter, body(pain_now=pain)).json()
    assert answer["refer"] is refer
    assert answer["cautions"][0].startswith("See a clinician first.") is refer


@pytest.mark.parametrize(
    ("given", "refer"),
    [
        ({"history": [{"region": "inner shin", "now": True}]}, True),
        ({"history": [{"region": "thigh", "now": True}]}, False),
        ({"pain_now": 1, "pain_weeks": 4}, True),
        ({"pain_now": 1, "pain_weeks": 3}, False),
        ({"stop_signs": ["lost feeling"], "clinician_advised": True}, True),
    ],
)
def test_referral_rules_refer(fitter, body, given, refer):
    assert post(fitter, body(**given)).json()["refer"] is refer
    fitting = Fitting.objects.get()
    assert bool(fitting.referral_advice) is refer
    assert fitting.referral_rules.version == "R1"


def test_stop_signs_refer_and_are_said_first(fitter, body):
    answer = post(fitter, body(stop_signs=["night pain", "Swelling"])).json()
    assert answer["refer"] is True
    assert answer["cautions"][0].startswith("See a clinician first.")
    assert Fitting.objects.get().stop_signs == ["night_pain", "swelling"]
    found = fitter.get(f"{URL}{answer['id']}/recommendations/").json()
    assert found["cautions"][0].startswith("See a clinician first.")


def test_without_consent_nothing_of_the_person_is_kept_and_everything_is_answered_at_once(
    fitter, body, make_shoe, cast
):
    make_shoe("in-target", 71.0, stock={cast.store_a: ["42.5"]})
    response = post(fitter, body(customer={"name": "Ada Example", "email": "ada@example.org", "consent": False}))
    assert response.status_code == 201
    answer = response.json()
    assert answer["kept"] is False
    assert answer["need"]["centre"] == 71
    assert [item["slug"] for item in answer["recommendations"]["results"]] == ["in-target"]
    kept = Fitting.objects.get()
    assert Customer.objects.count() == 0
    assert kept.history.count() == kept.feet.count() == 0
    named = {"store_id", "fitter_id", "at", "kept", "id", "submission"}
    for column in Fitting._meta.concrete_fields:
        if column.attname not in named:
            assert getattr(kept, column.attname) in (None, "", [], False), column.attname
    for again in (
        fitter.get(f"{URL}{kept.pk}/recommendations/"),
        post(fitter, {"slug": "in-target", "size": "42.5"}, f"{URL}{kept.pk}/choice/"),
    ):
        assert again.status_code == 409
        assert "consent" in again.json()["detail"]


def test_consent_missing_means_no_consent(fitter, body):
    assert post(fitter, body(customer={"name": "Ada"})).json()["kept"] is False
    assert post(fitter, body(customer=None)).json()["kept"] is False


def test_same_submission_twice_makes_one_fitting(fitter, body):
    again = body(submission=str(uuid.uuid4()))
    first, second = post(fitter, again), post(fitter, again)
    assert (first.status_code, second.status_code) == (201, 200)
    assert first.json()["id"] == second.json()["id"]
    assert Fitting.objects.count() == 1


def test_submission_of_another_store_is_refused(fitter, body, api_for, cast):
    again = body(submission=str(uuid.uuid4()))
    post(fitter, again)
    response = post(api_for(cast.fitter_b), again | {"store": cast.store_b.slug})
    assert response.status_code == 409


@pytest.mark.parametrize("store", ["store-b", "no-such"])
def test_a_store_that_is_not_ones_own_is_not_found(fitter, body, store):
    response = post(fitter, body(store=store))
    assert response.status_code == 404
    assert "store" in response.json()["fields"]
    assert Fitting.objects.count() == 0


BAD = [
    ({"use": "flying"}, "use"),
    ({"use": None}, "use"),
    ({"body_mass_kg": -1}, "body_mass_kg"),
    ({"body_mass_kg": "heavy"}, "body_mass_kg"),
    ({"body_mass_kg": "nan"}, "body_mass_kg"),
    ({"body_mass_kg": "inf"}, "body_mass_kg"),
    ({"body_mass_kg": True}, "body_mass_kg"),
    ({"body_mass_kg": [70]}, "body_mass_kg"),
    ({"distance_km_week": -0.1}, "distance_km_week"),
    ({"pain_now": 11}, "pain_now"),
    ({"pain_weeks": -1}, "pain_weeks"),
    ({"pain_weeks": 1.5}, "pain_weeks"),
    ({"clinician_advised": "yes"}, "clinician_advised"),
    ({"pain_now": 2.5}, "pain_now"),
    ({"pain_now": True}, "pain_now"),
    ({"stop_signs": ["hunger"]}, "stop_signs"),
    ({"stop_signs": "swelling"}, "stop_signs"),
    ({"stop_signs": [5]}, "stop_signs"),
    ({"stop_signs": ["\x00"]}, "stop_signs"),
    ({"history": {"region": "heel"}}, "history"),
    ({"history": ["heel"]}, "history"),
    ({"history": [{"region": "tail"}]}, "history"),
    ({"history": [{"side": "left"}]}, "history"),
    ({"history": [{"region": 5}]}, "history"),
    ({"history": [{"region": "heel", "side": "up"}]}, "history"),
    ({"history": [{"region": "heel", "settled_on": "soon"}]}, "history"),
    ({"history": [{"region": "heel", "settled_on": "2999-01-01"}]}, "history.0.settled_on"),
    ({"history": [{"region": "heel", "now": True, "settled_on": "2025-01-01"}]}, "history.0.settled_on"),
    ({"history": [{"region": "heel"}] * 31}, "history"),
    ({"observation": {"left": {"pronation": 4}}}, "observation"),
    ({"observation": {"left": {"pronation": 1.5}}}, "observation"),
    ({"observation": {"right": {"fpi6": -13}}}, "observation"),
    ({"observation": {"left": {"navicular_drop_mm": "1e999"}}}, "observation"),
    ({"observation": {"hip_weak": "perhaps"}}, "observation"),
    ({"observation": []}, "observation"),
    ({"feet": {"left": {"length_mm": 26.5}}}, "feet"),
    ({"feet": {"left": 262}}, "feet"),
    ({"current_shoe": "no-such"}, "current_shoe"),
    ({"current_shoe": "\x00"}, "current_shoe"),
    ({"current_shoe": {"slug": "x"}}, "current_shoe"),
    ({"customer": {"name": "", "consent": True}}, "customer.name"),
    ({"customer": {"name": "   ", "consent": True}}, "customer.name"),
    ({"customer": {"name": "a\nb", "consent": True}}, "customer.name"),
    ({"customer": {"name": "x" * 121, "consent": True}}, "customer"),
    ({"customer": {"name": "A", "email": "not an address", "consent": True}}, "customer"),
    ({"customer": {"name": "A", "consent": "perhaps"}}, "customer"),
    ({"customer": "Ada"}, "customer"),
    ({"store": None}, "store"),
    ({"store": ["store-a"]}, "store"),
    ({"store": "\x00"}, "store"),
    ({"submission": "again"}, "submission"),
    ({"submission": 5}, "submission"),
    ({"cushioning": "very"}, "cushioning"),
    ({"stop_signs": ["swelling"], "stop_signs_asked": False}, "stop_signs_asked"),
    ({"stop_signs_asked": "yes"}, "stop_signs_asked"),
    ({"body_mass": 85}, "body_mass"),
    ({"body_mass_kg": "85"}, "body_mass_kg"),
    ({"customer": {"name": 5, "consent": True}}, "customer"),
    ({"customer": {"name": "A", "age": 40, "consent": True}}, "customer"),
    ({"observation": {"middle": {}}}, "observation"),
    ({"feet": {"left": {"girth_mm": 240}}}, "feet"),
    ({"history": [{"region": "heel", "since": "2025-01-01"}]}, "history"),
]


@pytest.mark.parametrize(("change", "field"), BAD, ids=lambda value: json.dumps(value)[:60])
def test_a_bad_value_is_refused_by_its_field_and_nothing_is_kept(fitter, body, change, field):
    response = post(fitter, body(**change))
    assert response.status_code == 400, response.content
    answer = response.json()
    assert field in answer["fields"], answer
    assert field.split(".")[0] in answer["detail"]
    assert Fitting.objects.count() == Customer.objects.count() == 0


@pytest.mark.parametrize("old", ["heel_deviation", "heel_deviation_deg"])
def test_a_key_of_an_earlier_version_is_refused_with_its_new_name(fitter, body, old):
    response = post(fitter, body(observation={"left": {"pronation": 1, old: 1}}))
    assert response.status_code == 400
    (text,) = response.json()["fields"]["observation"]
    assert text.startswith(f"left: {old}: ")
    assert "rearfoot_eversion" in text
    assert "rearfoot_eversion" in response.json()["detail"]
    assert Fitting.objects.count() == 0


def test_a_query_key_is_refused_where_none_is_taken(fitter, body):
    response = post(fitter, body(), f"{URL}?limit=5")
    assert (response.status_code, list(response.json()["fields"])) == (400, ["limit"])
    assert Fitting.objects.count() == 0


def test_the_schema_states_what_is_allowed(fitter):
    schema = fitter.get("/api/schema/", headers={"accept": "application/vnd.oai.openapi+json"}).json()
    listed = {item["name"]: item["schema"] for item in schema["paths"]["/api/follow-ups/"]["get"]["parameters"]}
    assert set(listed) == {"page", "page_size", "due"}
    assert (listed["page_size"]["minimum"], listed["page_size"]["maximum"]) == (1, 500)
    assert listed["due"]["type"] == "boolean"
    kinds = schema["components"]["schemas"]
    for name in ("FittingInput", "FootObservationInput", "AnswerInput", "PainInput", "ChoiceInput"):
        assert kinds[f"{name}Request"]["additionalProperties"] is False, name


@pytest.mark.parametrize(
    "raw", ["", "{", "[]", "null", '"text"', "5", '{"store": NaN}', '{"a": "\\ud800", "store": "\\ud800"}']
)
def test_a_body_that_is_no_fitting_is_refused(fitter, raw):
    response = fitter.post(URL, raw, content_type="application/json")
    assert response.status_code == 400, response.content
    assert set(response.json()) == {"detail", "code", "fields"}


def test_every_bad_field_is_named_at_once(fitter, body):
    answer = post(fitter, body(body_mass_kg=-1, pain_now=11, use="flying")).json()
    assert set(answer["fields"]) == {"body_mass_kg", "pain_now", "use"}


def test_list_holds_own_stores_only_and_no_name(fitter, body, api_for, cast, django_assert_num_queries):
    post(fitter, body())
    post(fitter, body())
    with django_assert_num_queries(5):  # token, its renewal and note, memberships, count, page
        answer = fitter.get(URL).json()
    assert answer["count"] == 2
    assert set(answer["results"][0]) == {"id", "store", "at", "kept", "chosen"}
    assert api_for(cast.fitter_b).get(URL).json()["count"] == 0


@pytest.mark.parametrize("role", ["technician", "reviewer", "office"])
def test_roles_without_a_store_record_nothing(role, cast, api_for, body):
    assert post(api_for(getattr(cast, role)), body()).status_code == 403


@pytest.mark.parametrize(
    "raw", ["[" * 100_000, '{"a":' * 50_000, '{"body_mass_kg": ' + "9" * 5000 + "}", b'\xff\xfe{"a"']
)
def test_json_that_cannot_be_read_is_refused(fitter, raw):
    response = fitter.post(URL, raw, content_type="application/json")
    assert (response.status_code, response.json()["code"]) == (400, "parse_error")


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"])
def test_other_kinds_of_body_are_refused(fitter, kind):
    assert fitter.post(URL, "store=store-a", content_type=kind).status_code == 415
