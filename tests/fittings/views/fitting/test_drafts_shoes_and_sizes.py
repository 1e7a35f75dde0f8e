"""The page of a fitting: shoes by name, sizes as people say them, numbers in the reader's units, nothing assumed."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client

from core.models import Store
from fittings.models import DraftSection, Fitting
from tests.fittings.views.fitting.draft_requests import HTMX, PAGE, PERSON, section, text_of


@pytest.fixture
def key():
    return uuid.uuid4()


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


def need(client, key, **data):
    return text_of(client.post(f"/fittings/drafts/{key}/need/", data, **HTMX))


def finish(client, key, **data):
    sent = {"do": "finish", "page": PAGE, "intake-use": "running", "stop-signs": ["none"]} | PERSON | data
    return client.post(f"/fittings/drafts/{key}/", sent)


def test_use_is_not_assumed_and_no_shoe_is_shown_before_it_is_known(fitter, key, make_shoe):
    make_shoe("firm", 60.0)
    heavy = {"intake-body_mass_kg": "99"}
    unknown = need(fitter, key, **heavy)
    assert "State in “Intake” what the shoes are for" in unknown
    assert "centre 45.0" in unknown
    assert "Try on" not in unknown
    known = need(fitter, key, **heavy, **{"intake-use": "running"})
    assert "centre 53.0" in known
    assert "Try on" in known
    refused = finish(fitter, key, **{"intake-use": ""})
    assert refused.status_code == 400
    assert "Say what the shoes are for: running, walking, standing work." in text_of(refused)
    assert not Fitting.objects.exists()


def test_shoe_is_named_and_its_address_appears_on_no_field(fitter, key, make_shoe):
    make_shoe("near-2", 46.0)
    section(fitter, key, "person", PERSON)
    for written in ("Brand near-2", "brand NEAR-2", "near 2"):
        assert section(fitter, key, "try_ons", {"try-0-slug": written, "try-0-size": "42"}).status_code == 200
        shown = text_of(fitter.get(f"/fittings/drafts/{key}/sections/try_ons/", **HTMX))
        assert f'value="{written}"' in shown
    section(fitter, key, "try_ons", {"try-0-slug": "near-2", "try-0-size": "42"})
    for shown in (fitter.get(f"/fittings/drafts/{key}/"), fitter.get(f"/fittings/drafts/{key}/sections/try_ons/")):
        assert 'value="Brand near-2"' in text_of(shown)
        assert 'value="near-2"' not in text_of(shown)
    page = text_of(fitter.get(f"/fittings/drafts/{key}/"))
    assert '<option value="Brand near-2">' in page


def test_name_that_several_shoes_have_lists_them(fitter, key, make_shoe):
    for slug in ("wide-one", "wide-two"):
        make_shoe(slug, 46.0)
    section(fitter, key, "person", PERSON)
    answer = section(fitter, key, "try_ons", {"try-0-slug": "wide", "try-0-size": "42"})
    assert answer.status_code == 400
    assert "Several shoes match: Brand wide-one and Brand wide-two. Write the whole name." in text_of(answer)
    untested = make_shoe("no-score", published=False)
    answer = section(fitter, key, "try_ons", {"try-0-slug": untested.slug, "try-0-size": "42"})
    assert "no published shoe “Brand no-score”: it has no score yet" in text_of(answer)


def test_names_are_offered_while_one_is_typed(fitter, make_shoe):
    make_shoe("glide", 46.0)
    make_shoe("other", 46.0)
    offered = text_of(fitter.get("/fittings/shoe-names/", {"words": "bra gli"}))
    assert "Brand glide" in offered
    assert "other" not in offered
    for words in ("", "\x00", "%%%", "x" * 500):
        assert fitter.get("/fittings/shoe-names/", {"words": words}).status_code == 200
    assert Client().get("/fittings/shoe-names/", {"words": "gli"}).status_code in (302, 403)


def test_shoe_worn_now_may_be_none_of_the_catalogue(fitter, key, make_shoe):
    make_shoe("glide-3", 46.0)
    page = text_of(finish(fitter, key, **{"intake-current_shoe": "Glide", "intake-body_mass_kg": "5"}))
    assert "Not in the catalogue: stored as written, without a comparison." in page
    finish(fitter, key, **{"intake-current_shoe": "Glide"})
    fitting = Fitting.objects.get()
    assert (fitting.current_shoe, fitting.current_shoe_text) == (None, "Glide")
    assert "Glide" in text_of(fitter.get(f"/fittings/{fitting.pk}/"))
    other = uuid.uuid4()
    finish(fitter, other, **{"intake-current_shoe": "brand glide-3"})
    fitting = Fitting.objects.get(submission=other)
    assert (fitting.current_shoe.slug, fitting.current_shoe_text) == ("glide-3", "")


def test_sizes_are_said_in_the_customers_system(fitter, key, make_shoe):
    make_shoe("near", 46.0)
    women = {"intake-use": "running", "foot-left-length_mm": "265", "foot-size_system": "us-women"}
    assert "Suggested size: <strong>US W 10.5 (EU 42)</strong>" in need(fitter, key, **women)
    section(fitter, key, "person", PERSON)
    tried = {"try-0-slug": "near", "try-0-size": "US W 10.5 (EU 42)", "try-1-slug": "near", "try-1-size": "9"}
    assert section(fitter, key, "try_ons", women | tried).status_code == 200
    # The system is stored with the number: a colleague's page has no other way to know it.
    assert DraftSection.objects.get(name="try_ons").content["try-1-size"] == "US W 9"
    finish(fitter, key, **women, **tried)
    fitting = Fitting.objects.get()
    assert fitting.size_system == "us-women"
    assert sorted(str(item.size_eu) for item in fitting.try_ons.all()) == ["40.5", "42.0"]


def test_store_has_a_system_of_its_own(fitter, key, make_shoe, cast):
    make_shoe("near", 46.0)
    Store.objects.filter(pk=cast.store_a.pk).update(size_system="uk")
    page = text_of(fitter.get(f"/fittings/drafts/{key}/"))
    assert '<input type="hidden" name="sizes" value="uk">' in page
    assert "UK 8.5 (EU 42)" in need(fitter, key, **{"intake-use": "running", "foot-left-length_mm": "265"})
    finish(fitter, key, sizes="uk", **{"try-0-slug": "near", "try-0-size": "8"})
    assert str(Fitting.objects.get().try_ons.get().size_eu) == "41.5"


def test_us_number_without_men_or_women_is_asked_for(fitter, key, make_shoe):
    make_shoe("near", 46.0)
    section(fitter, key, "person", PERSON)
    answer = section(fitter, key, "try_ons", {"sizes": "us", "try-0-slug": "near", "try-0-size": "9"})
    assert answer.status_code == 400
    assert "Write a size like" in text_of(answer)


def test_numbers_are_written_in_the_readers_units_and_stored_in_si(fitter, key):
    fitter.cookies["units"] = "imperial"
    page = text_of(fitter.get(f"/fittings/drafts/{key}/"))
    assert 'name="units" value="imperial"' in page
    assert 'Body mass <span class="field__optional">(lb)</span>' in page
    section(fitter, key, "person", PERSON)
    wrong = section(fitter, key, "intake", {"units": "imperial", "intake-body_mass_kg": "9"})
    assert "Write a number from 22 to 881.8 lb." in text_of(wrong)
    miles = {"intake-body_mass_kg": "156.5", "intake-distance_km_week": "20"}
    section(fitter, key, "intake", {"units": "imperial"} | miles)
    # 156.5 lb of 0.45359237 kg, 20 mi of 1.609344 km
    stored = {"intake-body_mass_kg": "70.99", "intake-distance_km_week": "32.19"}
    assert DraftSection.objects.get(name="intake").content == stored
    section(fitter, key, "feet", {"units": "imperial", "foot-left-length_mm": "10,5"})
    assert DraftSection.objects.get(name="feet").content == {"foot-left-length_mm": "266.7"}
    again = text_of(fitter.get(f"/fittings/drafts/{key}/"))
    for written in ("156.5", "20", "10.5"):
        assert f'value="{written}"' in again
    fitter.cookies["units"] = "metric"
    assert 'value="70.99"' in text_of(fitter.get(f"/fittings/drafts/{key}/"))


def test_colleague_with_other_units_is_shown_differences_in_their_own(fitter, key):
    section(fitter, key, "person", PERSON)
    section(fitter, key, "feet", {"foot-left-length_mm": "254"})
    late = {"units": "imperial", "page": str(uuid.uuid4()), "foot-left-length_mm": "10.5"}
    answer = fitter.post(f"/fittings/drafts/{key}/sections/feet/", late, **HTMX)
    assert answer.status_code == 409
    assert "<td>10</td><td>10.5</td>" in text_of(answer)


def test_bar_has_stop_signs_target_and_best_match(fitter, key, make_shoe):
    make_shoe("near", 46.0)
    page = text_of(fitter.get(f"/fittings/drafts/{key}/"))
    assert "Stop signs not asked" in page
    for anchor in ("person", "intake", "stop_signs", "observation", "feet", "need", "match", "try_ons", "choice"):
        assert f'<a href="#section-{anchor}">' in page
        assert f'id="section-{anchor}"' in page
    running = {"intake-use": "running"}
    assert "Best <b>Brand near, &gt;" in need(fitter, key, **running)
    assert "No stop signs" in need(fitter, key, **running, **{"stop-signs": "none"})
    assert "1 stop sign: clinician first" in need(fitter, key, **running, **{"stop-signs": "swelling"})


def test_best_matches_not_tried_yet_are_offered_at_the_try_ons(fitter, key, make_shoe):
    make_shoe("one", 46.0)
    make_shoe("two", 45.0)
    text = need(fitter, key, **{"intake-use": "running", "try-0-slug": "Brand two", "try-0-size": "42"})
    offered = text[text.index('id="fit-next"') : text.index('id="fit-places"')]
    assert 'data-name="Brand one"' in offered
    assert "Brand two" not in offered


def test_feet_that_differ_much_are_remarked(fitter, key):
    feet = {"foot-left-length_mm": "262", "foot-right-length_mm": "268"}
    assert "6 mm longer; check the fit of both shoes." in need(fitter, key, **feet)
    assert "One size rarely serves both" not in need(fitter, key, **feet)
    assert "One size rarely serves both" in need(fitter, key, **feet | {"foot-right-length_mm": "269"})
