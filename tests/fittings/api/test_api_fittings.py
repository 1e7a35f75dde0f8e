"""The API of fittings: need, recommendations, choice, and what is refused."""

from __future__ import annotations

import json
import uuid

import pytest

from catalogue.domain.sizes import SIZE_PATTERN
from fittings.models import Choice, Consent, Customer, Fitting, FollowUp

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


def test_other_store_finds_neither_fitting_nor_choice(fitter, body, make_shoe, api_for, cast):
    make_shoe("in-target", 71.0)
    pk = post(fitter, body()).json()["id"]
    other = api_for(cast.fitter_b)
    assert other.get(f"{URL}{pk}/recommendations/").status_code == 404
    assert post(other, {"slug": "in-target", "size": "42.5"}, f"{URL}{pk}/choice/").status_code == 404
    assert other.get(f"{URL}{10**30}/recommendations/").status_code == 404


def test_choice_makes_the_follow_ups(fitter, body, make_shoe):
    make_shoe("in-target", 71.0)
    pk = post(fitter, body()).json()["id"]
    response = post(fitter, {"slug": "in-target", "size": "EU 42.5", "comfort": 8, "reason": ""}, f"{URL}{pk}/choice/")
    assert response.status_code == 201, response.content
    answer = response.json()
    assert [item["weeks"] for item in answer["follow_ups"]] == [2, 6, 12, 26, 52]
    assert answer["in_target"] is True
    choice = Choice.objects.get()
    assert (choice.stability, choice.in_target, choice.comfort) == (71.0, True, 8)
    days = [(item.due_on - choice.at.date()).days for item in FollowUp.objects.order_by("weeks")]
    assert days == [14, 42, 84, 182, 364]


@pytest.mark.parametrize(
    ("size", "answered"),
    [
        ("EU 40.5", "EU 40.5"), ("40,5", "EU 40.5"), (40.5, "EU 40.5"), (40, "EU 40"), ("UK 7", "EU 40.5"),
        ("US M 8", "EU 40.5"), ("US W 9", "EU 40.5"), ("256 mm", "EU 40.5"),
    ],
)  # fmt: skip
def test_choice_takes_a_size_in_every_system_and_answers_in_eu(fitter, body, make_shoe, size, answered):
    make_shoe("in-target", 71.0)
    pk = post(fitter, body()).json()["id"]
    response = post(fitter, {"slug": "in-target", "size": size}, f"{URL}{pk}/choice/")
    assert (response.status_code, response.json()["size"]) == (201, answered)
    assert f"EU {Choice.objects.get().size_eu.normalize():f}" == answered


@pytest.mark.parametrize("size", ["UK 44", "US 9", "US M 1", "84 mm", "EU\t42", "FR 42", "", 14.9, 42.55, 1e300])
def test_size_that_cannot_be_is_refused_with_the_forms_that_can(fitter, body, make_shoe, size):
    make_shoe("in-target", 71.0)
    pk = post(fitter, body()).json()["id"]
    response = post(fitter, {"slug": "in-target", "size": size}, f"{URL}{pk}/choice/")
    assert response.status_code == 400
    (said,) = response.json()["fields"]["size"]
    assert "EU 42.5, UK 8, US M 9, US W 10.5 or 265 mm" in said
    assert "UK 1 to 18.5" in said


def test_schema_of_a_choice_describes_the_sizes(client, db):
    schema = client.get("/api/schema/?format=json").json()
    text, number = schema["components"]["schemas"]["ChoiceInputRequest"]["properties"]["size"]["oneOf"]
    assert text == {"type": "string", "pattern": SIZE_PATTERN}
    assert (number["minimum"], number["maximum"]) == (15, 55)


def test_second_choice_is_refused_and_doubles_nothing(fitter, body, make_shoe):
    make_shoe("in-target", 71.0)
    pk = post(fitter, body()).json()["id"]
    chosen = {"slug": "in-target", "size": 42.5}
    assert post(fitter, chosen, f"{URL}{pk}/choice/").status_code == 201
    response = post(fitter, chosen, f"{URL}{pk}/choice/")
    assert response.status_code == 409
    assert (Choice.objects.count(), FollowUp.objects.count()) == (1, 5)


def test_choice_outside_the_target_needs_a_reason(fitter, body, make_shoe):
    make_shoe("outside", 50.0)
    pk = post(fitter, body()).json()["id"]
    url = f"{URL}{pk}/choice/"
    refused = post(fitter, {"slug": "outside", "size": "42.5", "comfort": 9, "reason": "  "}, url)
    assert refused.status_code == 400
    assert "outside the target 65.0 to 77.0" in refused.json()["fields"]["reason"][0]
    answer = post(fitter, {"slug": "outside", "size": "42.5", "comfort": 9, "reason": "Far more comfortable"}, url)
    assert answer.status_code == 201
    assert answer.json()["in_target"] is False


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"slug": "no-such"}, "slug"),
        ({"slug": "hidden"}, "slug"),
        ({"slug": "\x00"}, "slug"),
        ({"slug": None}, "slug"),
        ({"size": "XL"}, "size"),
        ({"size": 99}, "size"),
        ({"size": True}, "size"),
        ({"size": ["42"]}, "size"),
        ({"size": "\x00"}, "size"),
        ({"size": None}, "size"),
        ({"comfort": 11}, "comfort"),
        ({"comfort": 7.5}, "comfort"),
        ({"reason": "x" * 501}, "reason"),
        ({"reason": "\x00"}, "reason"),
    ],
    ids=lambda value: json.dumps(value)[:40],
)
def test_a_bad_choice_is_refused_by_its_field(fitter, body, make_shoe, change, field):
    make_shoe("in-target", 71.0)
    make_shoe("hidden", 71.0, published=False)
    pk = post(fitter, body()).json()["id"]
    chosen = {"slug": "in-target", "size": "EU 42.5", "comfort": 8, "reason": "why"} | change
    response = post(fitter, chosen, f"{URL}{pk}/choice/")
    assert response.status_code == 400, response.content
    assert field in response.json()["fields"]
    assert Choice.objects.count() == 0


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
