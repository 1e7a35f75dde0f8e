"""The customer's card: what was seen and advised, exercises in general terms, when to come back, when to see others."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.utils import timezone

from fittings.domain.fitting.intake import FootIntake
from fittings.domain.regions import Complaint
from fittings.presentation.fitting import card
from fittings.selectors.fitting.needs import need_of
from fittings.services.people.links import token_for


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


def lines_of(fitting, units="metric"):
    choice = getattr(fitting, "choice", None)
    return card.card_lines(fitting, choice, need_of(fitting), units=units, today=timezone.localdate())


@pytest.fixture
def noon():
    return dt.datetime(2026, 1, 1, 12, 0, tzinfo=dt.UTC)


def test_card_says_what_was_seen_and_advised(chosen):
    found = lines_of(chosen(left=FootIntake(pronation=2, pronation_deg=12.0), right=FootIntake(length_mm=268.0)))
    assert ("Pronation", "2 moderate (12.0°, G1)", "not checked") in found.seen
    assert not any(row[0] == "Navicular drop" for row in found.seen)
    assert "between" in found.advised
    assert "size EU\u00a042.5 to start with" in found.advised


def test_hip_exercises_only_where_the_hip_gave_way_and_with_a_referral(chosen):
    weak = lines_of(chosen(hip_weak=True)).hip
    assert "side of the hip" in weak[0]
    assert "licensed clinician" in weak[1]
    assert lines_of(chosen(name="Bea", hip_weak=False)).hip == ()
    assert lines_of(chosen(name="Cle", hip_weak=None)).hip == ()


@pytest.mark.parametrize(
    "hurting",
    [
        {"stop_signs": ("night_pain",)},
        {"pain_now": 1},
        {"history": (Complaint("thigh", "left", now=True),)},
        {"pain_weeks": 4},
    ],
)
def test_hip_exercises_are_left_out_with_a_stop_sign_or_pain_now(chosen, hurting):
    assert lines_of(chosen(hip_weak=True, **hurting)).hip == ()


def test_shoes_are_looked_at_between_two_days_by_distance(chosen, noon):
    # 500 and 800 km at 35 km a week: 100 and 160 days; common practice, no source.
    words = lines_of(chosen(at=noon, distance_km_week=35.0)).shoe_age
    assert "11 April 2026" in words
    assert "10 June 2026" in words
    assert "Common practice, no source" in words
    slow = lines_of(chosen(at=noon, name="Bea", distance_km_week=2.0)).shoe_age
    assert "two years at the latest" in slow
    assert lines_of(chosen(at=noon, name="Cle", distance_km_week=None)).shoe_age == card.NO_DISTANCE
    assert "mi" in lines_of(chosen(at=noon, name="Dee", distance_km_week=35.0), "imperial").shoe_age


def test_card_says_when_to_come_back(chosen, make_fitting):
    fitting = chosen()
    due = fitting.follow_ups.order_by("due_on").first().due_on
    assert f"We will ask how it is going on {due.day} " in lines_of(fitting).come_back
    assert lines_of(make_fitting(name="Bea")).come_back.startswith("Come back to choose a shoe.")
    assert lines_of(make_fitting(name="Bea")).shoe_age == ""


def test_customer_and_store_see_the_same_card_with_cautions(client, chosen, cast):
    fitting = chosen(stop_signs=("night_pain",))
    through_link = text_of(client.get(f"/f/{token_for(fitting)}/"))
    client.force_login(cast.fitter_a)
    printed = text_of(client.get(f"/fittings/{fitting.pk}/card/"))
    for text in (through_link, printed):
        for words in (
            "When to see a clinician",
            "When to come back",
            "See a clinician first.",
            "Not a diagnosis",
            "What we observed",
            "in your target",
        ):
            assert words in text, words
    assert "<svg" in printed
    assert "/f/" in printed
    assert "style=" not in printed


def test_card_of_a_fitting_not_kept_is_empty(client, make_fitting, cast):
    client.force_login(cast.fitter_a)
    text = text_of(client.get(f"/fittings/{make_fitting(consent=False).pk}/card/"))
    assert "did not agree" in text


def test_card_costs_few_queries(client, chosen, cast, django_assert_max_num_queries):
    fitting = chosen(hip_weak=True)
    client.force_login(cast.fitter_a)
    # One of them for the reply of a clinician.
    with django_assert_max_num_queries(13):
        client.get(f"/fittings/{fitting.pk}/card/")
