"""The pages of the stores: from consent to choice and follow-up, without JavaScript."""

from __future__ import annotations

import datetime as dt
import html
import re
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from fittings.models import Choice, Customer, Draft, Fitting, FollowUp, FootObservation, TryOn

NEW = "/fittings/new/"


def ago(**span):
    return timezone.now() - dt.timedelta(**span)


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


def fresh_page():
    return f"/fittings/drafts/{uuid.uuid4()}/"


def form(**changes):
    return {
        "do": "finish",
        "store": "store-a",
        "person-consent": "yes",
        "person-name": "Ada Example",
        "person-email": "ada@example.org",
        "intake-use": "running",
        "intake-body_mass_kg": "85",
        "intake-distance_km_week": "30",
        "intake-pain_now": "2",
        "intake-cushioning": "",
        "stop-signs": ["none"],
        "hip-hip_weak": "no",
        "left-pronation": "2",
        "left-tibial_rotation": "1",
        "left-rearfoot_eversion": "0",
        "left-fpi6": "7",
        "right-pronation": "1",
        "foot-left-length_mm": "262",
        "foot-right-length_mm": "268",
        "history-0-region": "heel",
        "history-0-side": "left",
        "history-0-state": "past",
        "history-0-settled_on": "2025-01-31",
    } | changes


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


def test_fitting_page_leads_to_need_and_recommendations(fitter, make_shoe, cast):
    make_shoe("in-target", 71.0, stock={cast.store_a: ["42.5"]})
    make_shoe("soft", 55.0)
    fresh = fitter.get(NEW)
    assert fresh.status_code == 302
    text = text_of(fitter.get(fresh.headers["Location"]))
    assert "Does the customer agree" in text
    assert "I agree that this practice stores" in text
    assert Draft.objects.count() == 0
    answer = fitter.post(fresh_page(), form())
    fitting = Fitting.objects.get()
    assert answer.status_code == 302
    assert answer.headers["Location"] == f"/fittings/{fitting.pk}/"
    detail = text_of(fitter.get(answer.headers["Location"]))
    assert "65.0 to 77.0" in detail
    assert "Pronation: moderate (left)" in detail
    assert "EU 42.5 in stock here" in detail
    assert "below the target" in detail
    assert "Not a diagnosis" in detail
    assert (fitting.hip_weak, fitting.pain_now, fitting.body_mass_kg) == (False, 2, 85)


def test_page_sent_twice_makes_one_fitting(fitter):
    here = fresh_page()
    first, second = fitter.post(here, form()), fitter.post(here, form())
    assert first.headers["Location"] == second.headers["Location"]
    assert Fitting.objects.count() == Customer.objects.count() == 1


def test_without_consent_the_answer_is_shown_once_and_nothing_is_kept(fitter, make_shoe):
    make_shoe("in-target", 71.0)
    answer = fitter.post(
        fresh_page(), form(**{"person-consent": "no", "stop-signs": ["swelling"], "stop-advised": "on"})
    )
    assert answer.status_code == 200
    text = text_of(answer)
    assert "None of this is stored." in text
    assert "65.0 to 77.0" in text
    assert "in-target" in text
    assert "See a clinician first." in text
    assert "no-store" in answer.headers["Cache-Control"]
    assert Draft.objects.count() == Customer.objects.count() == 0
    kept = Fitting.objects.get()
    assert (kept.kept, kept.customer, kept.body_mass_kg, kept.stop_signs) == (False, None, None, [])
    assert "did not agree" in text_of(fitter.get(f"/fittings/{kept.pk}/"))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"person-consent": ""}, "Answer this before you finish"),
        ({"person-name": ""}, "Give a name"),
        ({"person-name": "a\x00b"}, "characters that cannot be seen"),
        ({"person-email": "nowhere"}, "Enter a valid e-mail address, such as name@example.org."),
        ({"person-phone": "call me"}, "Write the telephone number with only digits"),
        ({"person-known": "999999"}, "This customer is not on record at your store."),
        ({"person-known": "one"}, "Enter a whole number, such as 12."),
        ({"intake-use": "flying"}, "not one of the choices"),
        ({"intake-body_mass_kg": "heavy"}, "Write a number from 10 to 400."),
        ({"intake-body_mass_kg": "nan"}, "Write a number from 10 to 400."),
        ({"intake-body_mass_kg": "5"}, "Write a number from 10 to 400."),
        ({"intake-distance_km_week": "-1"}, "Write a number from 0 to 1000."),
        ({"intake-pain_now": "11"}, "not one of the choices"),
        ({"intake-use": ""}, "Say what the shoes are for"),
        ({"intake-current_shoe": "x" * 161}, "at most 160 characters"),
        ({"intake-insole": "plaster"}, "not one of the choices"),
        ({"foot-size_system": "barleycorns"}, "not one of the choices"),
        ({"stop-signs": "hunger"}, "not one of the choices"),
        ({"stop-signs": []}, "Ask about these signs before you finish"),
        ({"stop-signs": [], "person-consent": "no"}, "Ask about these signs before you finish"),
        ({"stop-signs": ["none", "swelling"]}, "not both."),
        ({"left-pronation": "4"}, "not one of the choices"),
        ({"left-fpi6": "13"}, "Write a whole number from −12 to 12."),
        ({"left-fpi6": "1.5"}, "Write a whole number from −12 to 12."),
        ({"right-pronation_deg": "46"}, "Write a number from −30 to 45."),
        ({"right-pronation_deg": "12"}, "12° is grade 2 (moderate) by the cut-offs G1"),
        ({"foot-right-length_mm": "26.5"}, "Write a number from 100 to 400."),
        ({"history-0-region": "tail"}, "not one of the choices"),
        ({"history-0-settled_on": "soon"}, "Enter a valid date: year, month and day, such as 2026-03-04."),
        ({"history-0-settled_on": "2999-01-01"}, "This date is in the future."),
        ({"history-0-state": "now"}, "has not settled"),
        ({"history-0-region": ""}, "Say where the complaint was"),
        ({"try-0-slug": "no-such", "try-0-size": "42"}, "There is no published shoe"),
        ({"try-0-size": "42"}, "Say which shoe it was"),
        ({"choice-place": "9"}, "not one of the choices"),
        ({"choice-place": "1"}, "Number 2 has no shoe."),
    ],
)
def test_bad_input_comes_back_with_its_problem_and_what_was_written(fitter, change, words):
    answer = fitter.post(fresh_page(), form(**change))
    assert answer.status_code == 400
    assert words in html.unescape(answer.content.decode())
    assert 'value="262"' in answer.content.decode()
    assert Fitting.objects.count() == 0


def test_store_of_somebody_else_is_not_found(fitter):
    assert fitter.post(fresh_page(), form(store="store-b")).status_code == 404
    assert Draft.objects.count() == Fitting.objects.count() == 0


def test_problem_of_a_later_row_stands_at_that_row(fitter):
    answer = fitter.post(fresh_page(), form(**{
        "history-0-region": "", "history-0-settled_on": "",
        "history-2-region": "knee", "history-2-state": "now", "history-2-settled_on": "2025-01-01",
    }))  # fmt: skip
    assert 'id="id_history-2-settled_on_error"' in answer.content.decode()


def test_degrees_and_the_grade_that_they_make_are_both_kept(fitter):
    change = {
        "left-pronation": "",
        "left-pronation_deg": "14,5",
        "right-pronation": "",
        "right-rearfoot_eversion_deg": "2",
    }
    answer = fitter.post(fresh_page(), form(**change))
    left, right = FootObservation.objects.order_by("foot")
    assert (left.pronation, left.pronation_deg, left.cutoffs.name) == (3, 14.5, "G1")
    assert (right.rearfoot_eversion, right.rearfoot_eversion_deg, right.pronation) == (0, 2.0, None)
    assert "3 marked (14.5°, G1)" in text_of(fitter.get(answer.headers["Location"]))


def test_try_on_and_choice_through_the_page(fitter, make_shoe):
    make_shoe("in-target", 71.0)
    fitter.post(fresh_page(), form())
    here = f"/fittings/{Fitting.objects.get().pk}/"
    assert 'value="Brand in-target"' in fitter.get(f"{here}?choose=in-target").content.decode()
    fitter.post(f"{here}try-on/", {"try-slug": "in-target", "try-size": "EU 42.5", "try-comfort": "8"})
    assert TryOn.objects.get().comfort == 8
    chosen = {"choice-slug": "in-target", "choice-size": "EU 42.5", "choice-comfort": "9", "choice-reason": ""}
    assert fitter.post(f"{here}choice/", chosen).status_code == 302
    assert fitter.post(f"{here}choice/", chosen).status_code == 302
    assert (Choice.objects.count(), FollowUp.objects.count()) == (1, 5)
    page = text_of(fitter.get(here))
    assert "in the target" in page
    assert "26 weeks" in page
    assert "/f/" in page


@pytest.mark.parametrize("written", ["EU 40.5", "40,5", "UK 7", "US M 8", "US W 9", "256 mm"])
def test_try_on_and_choice_take_a_size_in_every_system(fitter, make_shoe, written):
    make_shoe("in-target", 71.0)
    fitter.post(fresh_page(), form())
    here = f"/fittings/{Fitting.objects.get().pk}/"
    fitter.post(f"{here}try-on/", {"try-slug": "in-target", "try-size": written, "try-comfort": "8"})
    fitter.post(f"{here}choice/", {"choice-slug": "in-target", "choice-size": written, "choice-comfort": "9"})
    assert (TryOn.objects.get().size_eu, Choice.objects.get().size_eu) == (40.5, 40.5)


def test_refused_choice_and_try_on_come_back_with_their_problem(fitter, make_shoe):
    make_shoe("outside", 50.0)
    fitter.post(fresh_page(), form())
    here = f"/fittings/{Fitting.objects.get().pk}/"
    page = fitter.post(f"{here}choice/", {"choice-slug": "outside", "choice-size": "XL"})
    assert page.status_code == 400
    assert "Write a size like EU 42.5, UK 8, US M 9, US W 10.5 or 265 mm, not “XL”." in text_of(page)
    page = fitter.post(f"{here}choice/", {"choice-slug": "outside", "choice-size": "42"})
    assert "give a reason for the choice" in text_of(page)
    page = fitter.post(f"{here}try-on/", {"try-slug": "no-such", "try-size": "42"})
    assert page.status_code == 400
    assert "There is no published shoe" in text_of(page)
    assert fitter.post(f"{here}try-on/", {}).status_code == 400
    assert Choice.objects.count() == TryOn.objects.count() == 0


def test_other_store_gets_404_everywhere(sign_in, cast, chosen):
    fitting = chosen(at=ago(weeks=3))
    other = sign_in(cast.fitter_b)
    follow_up = fitting.follow_ups.first().pk
    assert other.get(f"/fittings/{fitting.pk}/").status_code == 404
    assert other.post(f"/fittings/{fitting.pk}/choice/", {}).status_code == 404
    assert other.post(f"/fittings/{fitting.pk}/try-on/", {}).status_code == 404
    assert other.get(f"/fittings/follow-ups/{follow_up}/").status_code == 404
    assert "Ada" not in text_of(other.get("/fittings/")) + text_of(other.get("/fittings/follow-ups/"))


def test_today_shows_fittings_and_what_is_due(fitter, chosen, make_fitting, django_assert_max_num_queries):
    chosen(at=ago(weeks=3))
    for number in range(5):
        make_fitting(name=f"Person {number}")
    make_fitting(consent=False)
    # One of them for the answers that need attention.
    with django_assert_max_num_queries(9):
        page = text_of(fitter.get("/fittings/"))
    assert "Person 4" in page
    assert "no consent" in page
    assert "Follow-ups due: 1" in page
    day = ago(weeks=3).date().isoformat()
    assert "Ada Example" in text_of(fitter.get(f"/fittings/?day={day}"))


@pytest.mark.parametrize("day", ["", "soon", "2025-02-30", "0001-01-01", "9999-12-31", "\x00"])
def test_a_day_that_is_none_is_today(fitter, day):
    page = fitter.get("/fittings/", {"day": day})
    assert page.status_code == 200
    assert "Today," in page.content.decode()


def test_due_list_is_paged_and_costs_the_same_however_long(fitter, chosen, django_assert_max_num_queries):
    for number in range(4):
        chosen(at=ago(weeks=3 + number), name=f"Person {number}")
    with django_assert_max_num_queries(6):
        page = text_of(fitter.get("/fittings/follow-ups/"))
    assert "Person 3" in page
    assert fitter.get("/fittings/follow-ups/?page=nonsense").status_code == 200


def test_staff_answer_a_follow_up(fitter, chosen):
    fitting = chosen(at=ago(weeks=3))
    follow_up = fitting.follow_ups.get(weeks=2)
    url = reverse("fittings:follow-up-answer", kwargs={"pk": follow_up.pk})
    page = fitter.get(url).content.decode()
    assert '<input type="hidden" name="pain-0-region" value="heel"' in page
    assert "Heel, left" in page
    answer = fitter.post(url, {"wearing": "yes", "pain-0-region": "heel", "pain-0-side": "left", "pain-0-score": "3"})
    assert answer.status_code == 302
    kept = FollowUp.objects.get(pk=follow_up.pk)
    assert kept.recurrence == "delayed"
    assert "Answered: delayed recurrence" in text_of(fitter.get(url))
    assert fitter.post(url, {"wearing": "no"}).status_code == 400
    assert FollowUp.objects.get(pk=follow_up.pk).wearing is True


def test_detail_costs_the_same_however_many_shoes(fitter, chosen, make_shoe, django_assert_max_num_queries):
    fitting = chosen()
    for number in range(12):
        make_shoe(f"shoe-{number}", 60.0 + number)
    # Two of them for the letters to a clinician and the reply.
    with django_assert_max_num_queries(20):
        assert fitter.get(f"/fittings/{fitting.pk}/").status_code == 200


def test_pages_carry_no_inline_style_or_script(fitter, chosen, sign_in, cast):
    fitting = chosen(at=ago(weeks=3))
    pages = [
        "/fittings/",
        fresh_page(),
        f"/fittings/{fitting.pk}/card/",
        f"/fittings/{fitting.pk}/",
        "/fittings/follow-ups/",
        f"/fittings/follow-ups/{fitting.follow_ups.first().pk}/",
    ]
    texts = [fitter.get(url).content.decode() for url in pages]
    texts.append(sign_in(cast.manager_a).get("/outcomes/").content.decode())
    for text in texts:
        assert "style=" not in text
        assert not re.search(r"<script(?![^>]*\bsrc=)", text)
