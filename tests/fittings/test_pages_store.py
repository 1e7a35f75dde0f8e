"""The pages of the stores: from consent to choice and follow-up, without JavaScript."""

from __future__ import annotations

import datetime as dt
import re
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from fittings.models import Choice, Customer, Fitting, FollowUp, TryOn

NEW = "/fittings/new/"


def ago(**span):
    return timezone.now() - dt.timedelta(**span)


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


def form(**changes):
    return {
        "submission": str(uuid.uuid4()),
        "store": "store-a",
        "consent": "yes",
        "name": "Ada Example",
        "email": "ada@example.org",
        "use": "running",
        "body_mass_kg": "85",
        "distance_km_week": "30",
        "pain_now": "2",
        "hip_weak": "no",
        "cushioning": "",
        "left-pronation": "2",
        "left-tibial_rotation": "1",
        "left-heel_deviation": "0",
        "left-fpi6": "7",
        "left-length_mm": "262",
        "right-pronation": "1",
        "right-length_mm": "268",
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
    page = text_of(fitter.get(NEW))
    assert "Does the customer agree" in page
    assert "I agree that this practice keeps" in page
    answer = fitter.post(NEW, form())
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
    twice = form()
    first, second = fitter.post(NEW, twice), fitter.post(NEW, twice)
    assert first.headers["Location"] == second.headers["Location"]
    assert Fitting.objects.count() == Customer.objects.count() == 1


def test_without_consent_the_answer_is_shown_once_and_nothing_is_kept(fitter, make_shoe):
    make_shoe("in-target", 71.0)
    page = fitter.post(NEW, form(consent="no", stop_signs=["swelling"]))
    assert page.status_code == 200
    text = text_of(page)
    assert "Nothing of this is kept." in text
    assert "65.0 to 77.0" in text
    assert "in-target" in text
    assert "See a clinician first." in text
    assert "no-store" in page.headers["Cache-Control"]
    kept = Fitting.objects.get()
    assert (kept.kept, kept.customer, kept.body_mass_kg, kept.stop_signs) == (False, None, None, [])
    assert "did not agree" in text_of(fitter.get(f"/fittings/{kept.pk}/"))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"consent": ""}, "This field is required."),
        ({"name": ""}, "Give a name"),
        ({"name": "a\x00b"}, "Null characters are not allowed."),
        ({"email": "nowhere"}, "Enter a valid email address."),
        ({"use": "flying"}, "Select a valid choice."),
        ({"store": "store-b"}, "Select a valid choice."),
        ({"body_mass_kg": "heavy"}, "Enter a number."),
        ({"body_mass_kg": "nan"}, "Enter a number."),
        ({"body_mass_kg": "5"}, "greater than or equal to 10"),
        ({"pain_now": "11"}, "Select a valid choice."),
        ({"stop_signs": "hunger"}, "Select a valid choice."),
        ({"left-pronation": "4"}, "Select a valid choice."),
        ({"left-fpi6": "13"}, "less than or equal to 12"),
        ({"right-length_mm": "26.5"}, "greater than or equal to 100"),
        ({"history-0-region": "tail"}, "Select a valid choice."),
        ({"history-0-settled_on": "soon"}, "Enter a valid date."),
        ({"history-0-settled_on": "2999-01-01"}, "must not be after the fitting"),
        ({"history-0-state": "now"}, "has not settled"),
        ({"history-0-region": ""}, "Say where the complaint was"),
        ({"current_shoe": "no-such"}, "There is no shoe"),
        ({"submission": "again"}, "Enter a valid UUID."),
    ],
)
def test_bad_input_comes_back_with_its_problem_and_what_was_written(fitter, change, words):
    page = fitter.post(NEW, form(**change))
    assert page.status_code == 400
    assert words in page.content.decode()
    assert 'value="268"' in page.content.decode() or "right-length_mm" in change
    assert Fitting.objects.count() == 0


def test_problem_of_a_later_row_stands_at_that_row(fitter):
    page = fitter.post(NEW, form(**{
        "history-0-region": "", "history-0-settled_on": "",
        "history-2-region": "knee", "history-2-state": "now", "history-2-settled_on": "2025-01-01",
    }))  # fmt: skip
    assert 'id="id_history-2-settled_on_error"' in page.content.decode()


def test_try_on_and_choice_through_the_page(fitter, make_shoe):
    make_shoe("in-target", 71.0)
    fitter.post(NEW, form())
    here = f"/fittings/{Fitting.objects.get().pk}/"
    assert 'value="in-target"' in fitter.get(f"{here}?choose=in-target").content.decode()
    fitter.post(f"{here}try-on/", {"try-slug": "in-target", "try-size": "EU 42.5", "try-comfort": "8"})
    assert TryOn.objects.get().comfort == 8
    chosen = {"choice-slug": "in-target", "choice-size": "EU 42.5", "choice-comfort": "9", "choice-reason": ""}
    assert fitter.post(f"{here}choice/", chosen).status_code == 302
    assert fitter.post(f"{here}choice/", chosen).status_code == 302
    assert (Choice.objects.count(), FollowUp.objects.count()) == (1, 4)
    page = text_of(fitter.get(here))
    assert "in the target" in page
    assert "26 weeks" in page
    assert "/f/" in page


def test_refused_choice_and_try_on_come_back_with_their_problem(fitter, make_shoe):
    make_shoe("outside", 50.0)
    fitter.post(NEW, form())
    here = f"/fittings/{Fitting.objects.get().pk}/"
    page = fitter.post(f"{here}choice/", {"choice-slug": "outside", "choice-size": "XL"})
    assert page.status_code == 400
    assert "size must be written like" in text_of(page)
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
    with django_assert_max_num_queries(7):
        page = text_of(fitter.get("/fittings/"))
    assert "Person 4" in page
    assert "not kept" in page
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
    with django_assert_max_num_queries(17):
        assert fitter.get(f"/fittings/{fitting.pk}/").status_code == 200


def test_pages_carry_no_inline_style_or_script(fitter, chosen, sign_in, cast):
    fitting = chosen(at=ago(weeks=3))
    pages = [
        "/fittings/",
        NEW,
        f"/fittings/{fitting.pk}/",
        "/fittings/follow-ups/",
        f"/fittings/follow-ups/{fitting.follow_ups.first().pk}/",
    ]
    texts = [fitter.get(url).content.decode() for url in pages]
    texts.append(sign_in(cast.manager_a).get("/outcomes/").content.decode())
    for text in texts:
        assert "style=" not in text
        assert not re.search(r"<script(?![^>]*\bsrc=)", text)
