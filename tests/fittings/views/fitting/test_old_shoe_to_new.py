"""The old shoe against the new one at the try-ons and on the card; insoles; a size that is not here; widths."""

from __future__ import annotations

import re
import uuid

import pytest

from catalogue.models import Shoe, ShoeWish
from core.models import AuditEntry
from fittings.models import Fitting
from fittings.selectors.people.personal_data import export_of
from fittings.services.people import privacy
from tests.shared import shared

HTMX = {"HTTP_HX_REQUEST": "true"}
PERSON = {"person-name": "Ada Example", "person-email": "ada@example.org", "person-consent": "yes"}


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


@pytest.fixture
def key():
    return uuid.uuid4()


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


@shared
def shoes(make_shoe):
    """A shoe worn now and one that differs from it much in stability and drop, and not in the rest."""
    make_shoe("worn", 46.0, drop_mm=12.0)
    make_shoe("firm", 66.0, drop_mm=4.0)


def need(client, key, **data):
    return text_of(client.post(f"/fittings/drafts/{key}/need/", {"intake-use": "running"} | data, **HTMX))


def finish(client, key, **data):
    sent = {"do": "finish", "intake-use": "running", "stop-signs": ["none"], "choice-reason": "felt best"}
    return client.post(f"/fittings/drafts/{key}/", sent | PERSON | data)


WORN = {"intake-current_shoe": "Brand worn", "try-0-slug": "Brand firm", "try-0-size": "42"}


def test_try_ons_say_what_changes_from_the_shoe_worn_now(fitter, key, shoes):
    text = need(fitter, key, **WORN)
    assert (
        "against the shoe worn now: Changes much in stability, height at the heel and drop: change over in 6 weeks."
        in text
    )
    assert "<strong>+20.0</strong> (much)" in text
    assert "<strong>−8.0 mm</strong> (much)" in text
    alone = need(fitter, key, **WORN | {"intake-current_shoe": "something else"})
    assert "against the shoe worn now" not in alone
    same = need(fitter, key, **WORN | {"try-0-slug": "Brand worn"})
    assert "against the shoe worn now" not in same


def test_card_has_the_change_and_the_weeks(fitter, key, shoes):
    finish(fitter, key, **WORN, **{"choice-place": "0"})
    fitting = Fitting.objects.get()
    card = text_of(fitter.get(f"/fittings/{fitting.pk}/card/"))
    for words in (
        "From your old shoes to the new ones",
        "Week 1: about 15 %",
        "Week 6: about 100 %",
        "no source",
    ):
        assert words in card
    for words in ("Ada Example", "Fitted by fitter-a", "Store A"):
        assert words in card


def test_orthosis_warns_of_a_shoe_whose_insole_stays_in(fitter, key, shoes):
    Shoe.objects.filter(slug="firm").update(removable_insole=False)
    worn = WORN | {"intake-insole": "orthosis", "intake-current_shoe": "Brand firm"}
    assert "<strong>Brand firm</strong>: The orthosis does not fit" in need(fitter, key, **worn)
    finish(fitter, key, **worn, **{"choice-place": "0", "try-0-with_insole": "on"})
    fitting = Fitting.objects.get()
    assert (fitting.insole, fitting.try_ons.get().with_insole) == ("orthosis", True)
    card = text_of(fitter.get(f"/fittings/{fitting.pk}/card/"))
    assert "Worn in the shoe: orthosis by a clinician, tried in these shoes. The orthosis does not fit" in card
    held = export_of(fitting.customer)["records"]
    assert held["fittings.fitting"][0]["insole"] == "orthosis"
    assert held["fittings.tryon"][0]["with_insole"] is True


def test_own_insole_is_asked_of_those_who_wear_one(fitter, key, shoes):
    finish(fitter, key, **WORN, **{"try-0-with_insole": "on"})
    assert Fitting.objects.get().try_ons.get().with_insole is None


def test_what_is_worn_and_said_is_in_no_entry_of_the_trail_and_goes_with_the_person(fitter, key, shoes, cast):
    said = {"intake-insole": "insole", "foot-size_system": "uk", "intake-current_shoe": "Plimsoll from a market"}
    finish(fitter, key, **said)
    fitting = Fitting.objects.get()
    held = export_of(fitting.customer)["records"]["fittings.fitting"][0]
    assert (held["current_shoe_text"], held["size_system"]) == ("Plimsoll from a market", "uk")
    assert not any("Plimsoll" in str(entry.content) for entry in AuditEntry.objects.all())
    privacy.customer_withdraw(actor=cast.fitter_a, customer=fitting.customer, reason="in-person")
    fitting.refresh_from_db()
    assert (fitting.current_shoe_text, fitting.insole, fitting.size_system) == ("", "", "")


def test_size_that_is_not_here_says_what_can_be_done(fitter, key, make_shoe, cast):
    make_shoe("near", 46.0, stock={cast.store_b: ["42"], cast.store_a: ["42.5"]})
    feet = {"foot-left-length_mm": "265"}
    text = need(fitter, key, **feet).replace("\xa0", " ")
    assert "No recommended shoe is here in EU 42" in text
    assert "Brand near is here in EU 42.5." in text
    assert "Brand near is at Store B in EU 42: a manager can have it sent." in text
    assert "Call back:" in text
    assert "No recommended shoe is here" not in need(fitter, key)
    make_shoe("here", 46.0, stock={cast.store_a: ["42"]})
    assert "No recommended shoe is here" not in need(fitter, key, **feet)


def test_shoe_is_asked_for_in_a_size_once(fitter, key, make_shoe, cast):
    make_shoe("near", 46.0)
    address = f"/fittings/drafts/{key}/wish/"
    first = text_of(fitter.post(address, {"shoe": "near", "size": "42.0"}))
    assert "Asked for: Brand near, EU 42." in first
    wish = ShoeWish.objects.get()
    assert (str(wish.brand), wish.name, wish.store) == ("Brand", "near, EU 42", cast.store_a)
    assert "already" in text_of(fitter.post(address, {"shoe": "near", "size": "42.0"}))
    assert "no longer in the catalogue" in text_of(fitter.post(address, {"shoe": "no\x00ne", "size": "42"}))
    assert "Write a size like" in text_of(fitter.post(address, {"shoe": "near", "size": "huge"}))
    assert ShoeWish.objects.count() == 1


def test_shoe_is_asked_for_without_javascript_and_nothing_written_is_lost(fitter, key, make_shoe):
    make_shoe("near", 46.0)
    sent = PERSON | {"do": "wish:near", "intake-use": "running", "wanted-size": "UK 8.5 (EU 42)", "left-pronation": "1"}
    page = text_of(fitter.post(f"/fittings/drafts/{key}/", sent, follow=True))
    assert "Asked for: Brand near, EU 42." in page
    assert "Pronation: slight (left)" in page


def test_widths_of_shoes_are_matched_with_the_foot(fitter, key, make_shoe):
    make_shoe("near", 46.0)
    wide = {"foot-left-length_mm": "265", "foot-left-width_mm": "112"}
    Shoe.objects.filter(slug="near").update(widths=["D"], wearer="men")
    assert "Made in D only, and the foot is wide for its length" in need(fitter, key, **wide)
    Shoe.objects.filter(slug="near").update(widths=["D", "2E"])
    assert "Made in 2E, which is wide like the foot" in need(fitter, key, **wide)


def test_size_system_of_a_known_customer_is_remembered(fitter, key, shoes):
    finish(fitter, key, **{"foot-size_system": "us-men"})
    customer = Fitting.objects.get().customer
    other = uuid.uuid4()
    found = text_of(fitter.post(f"/fittings/drafts/{other}/people/", {"find": "ada"}, **HTMX))
    assert f'data-pick="{customer.pk}" data-sizes="us-men"' in found
    picked = text_of(fitter.post(f"/fittings/drafts/{other}/", {"do": f"pick:{customer.pk}:agreed"}))
    assert '<option value="us-men" selected>' in picked
