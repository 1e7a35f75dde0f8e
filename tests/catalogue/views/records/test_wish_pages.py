"""Asking for a shoe that is not in the catalogue: from the own store, answered from the queue."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from catalogue.models import ShoeWish, WishState
from catalogue.services import shoe_merge, wish_ask, wish_decline, wish_done
from core.audit.verification import faults
from core.domain.errors import DomainError
from core.gate.access import Role
from core.models import AuditEntry, Membership
from tests.shared import shared

OWN = "/wall/wishes/store-a/"
QUEUE = "/catalogue/wishes/"
ASKED = {"brand": "Nordvik", "name": "Tarn  4", "note": "Sold in town.\nWide last."}


@shared
def wish(cast):
    return wish_ask(actor=cast.fitter_a, store=cast.store_a, brand="Nordvik", name="Tarn 4")


def detail(wish):
    return f"/catalogue/wishes/{wish.pk}/"


@pytest.mark.parametrize("who", ["fitter_a", "manager_a"])
def test_staff_of_a_store_ask_for_a_shoe(cast, sign_in, who):
    person = cast.members()[who]
    page = sign_in(person).post(OWN, ASKED, follow=True).content.decode()
    assert "Asked for. The answer appears here." in page
    assert "Nordvik Tarn 4" in page
    wish = ShoeWish.objects.get()
    assert (wish.store, wish.asked_by, wish.state, wish.note) == (
        cast.store_a,
        person,
        WishState.OPEN,
        "Sold in town.\nWide last.",
    )
    entry = AuditEntry.objects.get(action="catalogue.wish.asked")
    assert entry.content["store"] == "store-a"
    assert list(faults()) == []


def test_home_leads_to_the_own_store_or_lets_choose(cast, sign_in):
    client = sign_in(cast.fitter_a)
    assert client.get("/wall/wishes/").headers["Location"] == OWN
    Membership.objects.create(user=cast.fitter_a, role=Role.FITTER, store=cast.store_b)
    page = sign_in(cast.fitter_a).get("/wall/wishes/").content.decode()
    assert OWN in page
    assert "/wall/wishes/store-b/" in page


def test_other_stores_see_nothing_of_it(cast, sign_in, wish):
    client = sign_in(cast.fitter_b)
    assert client.get(OWN).status_code == 404
    assert client.post(OWN, ASKED).status_code == 404
    assert "Tarn" not in client.get("/wall/wishes/store-b/").content.decode()
    assert client.get(QUEUE).status_code == 403
    assert client.post(detail(wish), {"do": "decline", "reason": "no"}).status_code == 403
    assert ShoeWish.objects.get().state == WishState.OPEN


def test_same_shoe_is_asked_for_once_while_it_is_open(cast, sign_in, wish):
    answer = sign_in(cast.manager_a).post(OWN, {"brand": "NORDVIK", "name": "tarn 4"})
    assert answer.status_code == 400
    assert "The store asked for Nordvik Tarn 4 on" in answer.content.decode()
    assert ShoeWish.objects.count() == 1
    wish_decline(actor=cast.office, wish=wish, reason="Not sold here")
    wish_ask(actor=cast.manager_a, store=cast.store_a, brand="Nordvik", name="Tarn 4")
    wish_ask(actor=cast.fitter_b, store=cast.store_b, brand="Nordvik", name="Tarn 4")
    assert ShoeWish.objects.count() == 3


@pytest.mark.parametrize(
    "fields",
    [
        {},
        {"brand": "Nordvik"},
        {"brand": "x" * 61, "name": "Tarn"},
        {"brand": "Nordvik", "name": "Tarn\x00"},
        {"brand": "Nordvik", "name": "Tarn", "note": "x" * 501},
        {"brand": "Nordvik", "name": "Tarn", "note": "a\x00b"},
    ],
)
def test_bad_input_is_explained_and_nothing_is_stored(cast, sign_in, fields):
    answer = sign_in(cast.fitter_a).post(OWN, fields)
    assert answer.status_code == 400
    assert "The request was not saved" in answer.content.decode()
    assert not ShoeWish.objects.exists()


def test_queue_shows_open_ones_first_and_others_when_asked(cast, sign_in, wish):
    other = wish_ask(actor=cast.fitter_b, store=cast.store_b, brand="Hallin", name="Crest")
    wish_decline(actor=cast.office, wish=other, reason="Only sold abroad")
    client = sign_in(cast.technician)
    pages = {state: client.get(f"{QUEUE}?state={state}").content.decode() for state in ("", "declined", "all", "%00")}
    assert ["Tarn 4" in page for page in pages.values()] == [True, False, True, True]
    assert ["Only sold abroad" in page for page in pages.values()] == [False, True, True, False]


@pytest.mark.parametrize("shoe", ["nordvik-tarn-4", "Nordvik Tarn 4"])
def test_answered_with_a_shoe(cast, sign_in, wish, make_shoe, shoe):
    make_shoe("nordvik-tarn-4", brand="Nordvik", name="Tarn", version="4")
    client = sign_in(cast.reviewer)
    assert "nordvik-tarn-4" in client.get(detail(wish)).content.decode()
    client.post(detail(wish), {"do": "done", "shoe": shoe})
    assert (ShoeWish.objects.get().state, ShoeWish.objects.get().shoe.slug) == (WishState.DONE, "nordvik-tarn-4")
    page = sign_in(cast.fitter_a).get(OWN).content.decode()
    assert "in the catalogue</span> Nordvik Tarn 4" in page
    assert list(faults()) == []


def test_declined_with_a_reason_that_the_store_sees(cast, sign_in, wish):
    client = sign_in(cast.office)
    assert "Fill in “Reason”." in client.post(detail(wish), {"do": "decline", "reason": " "}).content.decode()
    client.post(detail(wish), {"do": "decline", "reason": "The maker no longer sells it"})
    assert "The maker no longer sells it" in sign_in(cast.manager_a).get(OWN).content.decode()
    assert AuditEntry.objects.get(action="catalogue.wish.declined").content["reason"] == "The maker no longer sells it"
    assert list(faults()) == []


@pytest.mark.parametrize("shoe", ["", "no-such-shoe", "x\x00", "x" * 200])
def test_shoe_that_is_not_there_is_explained(cast, sign_in, wish, shoe):
    answer = sign_in(cast.technician).post(detail(wish), {"do": "done", "shoe": shoe})
    assert answer.status_code == 400
    assert "Not answered" in answer.content.decode()
    assert ShoeWish.objects.get().state == WishState.OPEN


def test_duplicate_answers_with_the_shoe_that_stays(cast, sign_in, wish, make_shoe):
    stays, duplicate = make_shoe("stays"), make_shoe("doublet", published=False)
    shoe_merge(actor=cast.office, duplicate=duplicate, into=stays, reason="the same")
    duplicate.refresh_from_db()
    with pytest.raises(DomainError, match="merged"):
        wish_done(actor=cast.office, wish=wish, shoe=duplicate)
    sign_in(cast.office).post(detail(wish), {"do": "done", "shoe": "doublet"})
    assert ShoeWish.objects.get().shoe == stays


def test_second_answer_is_refused_and_says_who_was_first(cast, sign_in, wish):
    wish_decline(actor=cast.office, wish=wish, reason="Only sold abroad")
    answer = sign_in(cast.technician).post(detail(wish), {"do": "decline", "reason": "No"})
    assert answer.status_code == 400
    assert "This request was answered by office already" in answer.content.decode()
    assert ShoeWish.objects.get().reason == "Only sold abroad"
    with pytest.raises(DomainError, match="answered by office already: declined"):
        wish_decline(actor=cast.technician, wish=wish, reason="No")


def test_wish_that_is_not_there(cast, sign_in):
    assert sign_in(cast.office).get("/catalogue/wishes/999999/").status_code == 404


def test_links_from_stock_and_fitting(cast, sign_in):
    client = sign_in(cast.manager_a)
    assert f'href="{OWN}"' in client.get("/wall/stock/store-a/").content.decode()
    assert 'href="/wall/wishes/"' in client.get("/fittings/new/", follow=True).content.decode()


@pytest.mark.parametrize(("address", "who"), [(OWN, "fitter_a"), (QUEUE, "office")])
def test_queries_do_not_grow_with_the_wishes(cast, sign_in, address, who):
    def ask(*numbers):
        for number in numbers:
            wish_ask(actor=cast.fitter_a, store=cast.store_a, brand="Nordvik", name=f"Tarn {number}")

    client = sign_in(cast.members()[who])
    counts = []
    for numbers in ((1,), (2, 3, 4, 5)):
        ask(*numbers)
        with CaptureQueriesContext(connection) as captured:
            assert client.get(address).status_code == 200
        counts.append(len(captured))
    assert counts[0] == counts[1] <= 6
