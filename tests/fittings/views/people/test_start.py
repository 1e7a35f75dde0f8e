"""The public page "Where to start": a range by the rules in use, shoes in it, and nothing stored."""

from __future__ import annotations

import pytest
from django.apps import apps

from fittings.selectors.fitting.needs import current_rules

ADDRESS = "/start/"


@pytest.fixture
def ask(client, make_shoe, cast):
    make_shoe("firth", 53.0, stock={cast.store_a: ["42.0"]})
    make_shoe("moor", 51.0)
    make_shoe("crag", 72.0, drop_mm=4.0)

    def post(**answers):
        return client.post(ADDRESS, {"signs": "none", "use": "running", **answers})

    return post


def test_questions_come_first_and_ask_for_stop_signs(client, db):
    text = client.get(ADDRESS).content.decode()
    assert text.index("Does any of this apply to you now?") < text.index("What are the shoes for?")
    assert "no-store" in client.get(ADDRESS).headers["Cache-Control"]


def test_range_is_that_of_the_rules_in_use_and_wide_for_what_nobody_has_looked_at(ask):
    response = ask(body_mass_kg="90")
    rules = current_rules().rules
    need = response.context["need"]
    centre = rules.base + rules.running_mass_above_kg[-1][1]
    half = rules.half_width + 3 * rules.half_width_per_left_out
    assert need.centre == f"{centre:.1f}"
    assert need.target == f"{centre - half:.1f} to {centre + half:.1f}"
    assert [shoe.slug for shoe in response.context["shoes"]] == ["firth", "moor"]
    text = response.content.decode()
    assert "common practice in the trade" in text
    assert "A fitter looks at more of how your feet and lower legs move." in text
    assert "tibial rotation" not in text
    assert "What this cannot tell you" in text


def test_each_answer_is_a_line_with_its_points(ask):
    response = ask(body_mass_kg="60", roll="3", hurt="heel", hurts="past")
    lines = dict(response.context["need"].lines)
    rules = current_rules().rules
    assert lines["Pronation: marked (both feet)"] == f"+{rules.pronation[3]:.0f}"
    assert lines["Past pain: heel"] == f"+{rules.past_pain:.0f}"


def test_pain_now_lifts_the_range_and_sends_to_a_clinician(ask):
    response = ask(hurt="front_of_knee", hurts="now")
    assert float(response.context["need"].centre) == current_rules().rules.pain_now_centre_min
    assert "See a licensed clinician about pain" in response.content.decode()
    assert "See a clinician first. It hurts now here: front of the knee." in response.content.decode()


def test_widened_list_and_the_practices_own_signs_are_asked(client, db, ask, cast):
    from fittings.domain.fitting.referral_rules import R1, own_signs_of, referral_to_data
    from fittings.services.fitting.referral_rules import referral_rules_adopt, referral_rules_draft

    own = [{"code": sign.code, "words": sign.words} for sign in own_signs_of(["a rash"])]
    data = {name: value for name, value in referral_to_data(R1).items() if name != "version"} | {"own_signs": own}
    draft = referral_rules_draft(actor=cast.office, version="R2", data=data, reason="seen")
    referral_rules_adopt(actor=cast.manager_a, rules=draft, reason="agreed")
    text = client.get("/start/").content.decode()
    assert "cannot take four steps on that foot without help" in text
    assert "a rash" in text
    assert "You ticked: a rash." in ask(signs="own_a_rash").content.decode()
    urgent = ask(signs="calf").content.decode()
    assert "This should be seen today: one calf hot, swollen or tender." in urgent


@pytest.mark.parametrize("sign", ["night_pain", "open_skin"])
def test_stop_sign_ends_in_see_a_clinician_and_nothing_more(ask, sign):
    response = ask(signs=sign, body_mass_kg="90")
    text = response.content.decode()
    assert "See a clinician first" in text
    assert "shoes" not in response.context
    assert "/shoes/firth/" not in text


def test_size_puts_what_a_store_has_first(ask):
    shoes = ask(size="EU 42").context["shoes"]
    assert [(shoe.slug, bool(shoe.stock)) for shoe in shoes] == [("firth", True), ("moor", False)]


def test_stock_is_said_in_the_system_that_the_visitor_wrote_or_has_chosen(ask, client, cast):
    (line,) = ask(size="265 mm").context["shoes"][0].stock
    assert line.sizes.startswith("foot of about 265")
    assert line.url == f"/stores/{cast.store_a.slug}/"
    client.cookies["sizes"] = "uk"
    assert ask(size="42").context["shoes"][0].stock[0].sizes.startswith("about UK")
    assert "No store has it in this size" in ask(size="42").content.decode()
    assert "No store has it at present" in ask().content.decode()


def test_worn_shoe_is_placed_and_moves_nothing(ask):
    without = ask(body_mass_kg="90").context["need"]
    response = ask(body_mass_kg="90", worn="crag", went="well", distance_km_week="30")
    assert response.context["need"] == without
    assert "measures 72.0, outside this range. It went well" in response.context["worn"]
    assert response.context["distance"].startswith("30\u00a0km a week adds no points")


@pytest.mark.parametrize(
    ("worn", "words"), [("nothing like it", "no published score"), ("Brand", "Several of our shoes"), ("", "")]
)
def test_worn_shoe_that_is_not_one_of_ours(ask, worn, words):
    assert words in ask(worn=worn).context["worn"]


def test_pounds_and_miles_are_understood(ask, client):
    client.cookies["units"] = "imperial"
    response = ask(body_mass_kg="220", distance_km_week="20")
    assert any("99.79" in what or "100 kg" in what or "99.8" in what for what, _ in response.context["need"].lines)
    assert response.context["distance"].startswith("20\u00a0mi")


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ({"signs": []}, "Tick what applies, or “none of these”."),
        ({"signs": ["none", "swelling"]}, "not both"),
        ({"use": ""}, "Choose what the shoes are for."),
        ({"use": "flying"}, "not one of the choices"),
        ({"body_mass_kg": "heavy"}, "Write a number from 10 to 400 kg."),
        ({"body_mass_kg": "9e999"}, "Write a number from 10 to 400 kg."),
        ({"roll": "4"}, "not one of the choices"),
        ({"hurt": "heel"}, "Say whether it still hurts there."),
        ({"size": "huge"}, "Write a size like"),
        ({"worn": "x" * 81}, "at most 80 characters"),
    ],
)
def test_answer_that_makes_no_sense_is_named_and_nothing_is_lost(ask, answers, words):
    response = ask(**{"worn": "crag", **answers})
    text = response.content.decode()
    assert response.status_code == 400
    assert words in text
    assert "need" not in response.context
    assert 'value="crag"' in text or "worn" in answers


def test_nul_in_a_name_is_no_error(ask):
    assert ask(worn="cr\x00ag").status_code in (200, 400)


def test_nothing_is_stored(ask):
    def rows():
        return {model: model.objects.count() for model in apps.get_models() if model._meta.managed}

    before = rows()
    ask(body_mass_kg="90", hurt="heel", hurts="now", worn="crag")
    assert rows() == before


def test_answer_costs_the_same_for_many_shoes(ask, make_shoe, django_assert_num_queries):
    def cost():
        # rules; referral rules; candidates; rows and their stock; bands; the shoe worn: its name, row, stock; the
        # practice of the code; three of the page's frame
        with django_assert_num_queries(13):
            ask(body_mass_kg="90", worn="crag", size="42")

    cost()
    for number in range(30):
        make_shoe(f"more-{number}", 50.0 + number / 10)
    cost()


def test_list_of_shoes_leads_here(client, make_shoe):
    make_shoe("firth", 53.0)
    assert f'href="{ADDRESS}"' in client.get("/").content.decode()
