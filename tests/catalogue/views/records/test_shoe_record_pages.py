"""The pages on which the lab and head office look after shoes and brands."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from catalogue.models import Brand, Shoe
from catalogue.services import Barcode, shoe_correct, shoe_edition
from core import audit


@pytest.fixture
def office(cast, sign_in):
    return sign_in(cast.office)


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


def correction_of(client, address, /, **typed):
    """What a browser sends of the correction form: all that it shows, with some fields typed over."""
    page = client.get(reverse("catalogue:record-correct", args=[address]))
    form = page.context["form"]
    sent = {name: form[name].value() or "" for name in form.fields}
    sent |= {form.add_initial_prefix(name): sent[name] for name in form.fields if form.fields[name].show_hidden_initial}
    return sent | typed


def correct(client, slug, sent):
    return client.post(reverse("catalogue:record-correct", args=[slug]), sent)


def test_brand_and_shoe_are_added_from_an_empty_catalogue(office):
    page = office.get(reverse("catalogue:brand-list"))
    assert "No brand yet" in text_of(page)
    office.post(reverse("catalogue:brand-new"), {"name": "Odderby"})
    typed = {
        "brand": Brand.objects.get().pk,
        "name": "Fen",
        "version": "1",
        "use": "running",
        "wearer": "women",
        "widths": "B, D",
        "price_EUR": "139.90",
        "removable_insole": "no",
        "barcodes": "4001234567891 38,5 D\n\n4001234567990 39",
        "alternative_names": "Bog\nMarsh",
    }
    response = office.post(reverse("catalogue:record-new"), typed)
    assert response.status_code == 302
    page = text_of(office.get(response.headers["Location"]))
    for expected in ("Odderby Fen 1", "draft", "B, D", "EUR 139.90", "4001234567891 38.5 D", "fixed", "Bog, Marsh"):
        assert expected in page
    shoe = Shoe.objects.get()
    assert audit.entries_of(shoe).get().actor.username == "office"


@pytest.mark.parametrize("line", ["4001234567890 42", "4001234567891", "4001234567891 90", "abc 42"])
def test_barcode_that_can_not_be_read_is_named(office, make_shoe, line):
    make_shoe()
    typed = {"brand": Brand.objects.get().pk, "name": "Fen", "use": "running", "wearer": "all", "barcodes": line}
    response = office.post(reverse("catalogue:record-new"), typed)
    assert "barcodes" in response.context["form"].errors
    assert Shoe.objects.count() == 1


def test_shoe_that_is_there_already_is_named(office, make_shoe):
    shoe = make_shoe()
    typed = {"brand": shoe.brand.pk, "name": shoe.name.upper(), "version": "1", "use": "running", "wearer": "all"}
    response = office.post(reverse("catalogue:record-new"), typed)
    assert "corvane-lantern-1" in response.context["form"].errors["name"][0]


def test_states_are_words_in_the_list_and_can_be_filtered(office, make_shoe):
    make_shoe("fen")
    make_shoe("marsh", published=False)
    make_shoe("moor", is_discontinued=True)
    address = reverse("catalogue:record-list")
    listed = {shoe.slug: state.word for shoe, state in office.get(address).context["lines"]}
    assert listed == {"fen": "published", "marsh": "draft", "moor": "published"}
    for state, slugs in (("draft", ["marsh"]), ("published", ["fen", "moor"]), ("discontinued", ["moor"])):
        lines = office.get(address, {"state": state}).context["lines"]
        assert [shoe.slug for shoe, _ in lines] == slugs


def test_list_is_searched_by_name_and_barcode(office, make_shoe, publisher):
    shoe = make_shoe("fen", alternative_names=["Bogtrotter"])
    make_shoe("marsh")
    barcodes = [Barcode("4001234567891", 42)]
    shoe_correct(actor=publisher, shoe=shoe, changes={}, reason="label", barcodes=barcodes)
    for words in ("fen", "corv fen", "bogtrot", "4001234567891"):
        lines = office.get(reverse("catalogue:record-list"), {"q": words}).context["lines"]
        assert [found.slug for found, _ in lines] == ["fen"]


def test_correction_saves_what_was_typed_and_nothing_else(office, make_shoe):
    shoe = make_shoe("fen", list_prices={"EUR": "99.5"}, widths=["D"])
    sent = correction_of(office, "fen", mass_g="291.5", reason="weighed again")
    assert correct(office, "fen", sent).status_code == 302
    entry = audit.entries_of(shoe).order_by("-id").first().content
    assert (entry["before"], entry["reason"]) == ({"mass_g": 280.0}, "weighed again")
    assert "mass (g): 280.0 → 291.5" in text_of(office.get(reverse("catalogue:record-detail", args=["fen"])))


def test_second_of_two_people_is_shown_the_first_change_and_keeps_their_own(office, make_shoe, publisher):
    shoe = make_shoe("fen")
    sent = correction_of(office, "fen", season="2027", reason="catalogue")
    shoe_correct(actor=publisher, shoe=shoe, changes={"mass_g": 291.0}, reason="weighed again")
    response = correct(office, "fen", sent)
    assert response.status_code == 409
    page = text_of(response)
    assert "Somebody changed this shoe after you opened it" in page
    assert "weighed again" in page
    assert "mass (g): 280.0 → 291.0" in page
    form = response.context["form"]
    again = {name: form[name].value() for name in form.fields}
    again |= {name: form.data[name] for name in form.data if name.startswith("initial-")}
    assert (again["season"], again["mass_g"], again["edition"]) == ("2027", "291", str(shoe_edition(shoe)))
    assert correct(office, "fen", again).status_code == 302
    shoe.refresh_from_db()
    assert (shoe.season, shoe.mass_g) == ("2027", 291.0)


def test_correction_without_a_reason_is_refused(office, make_shoe):
    make_shoe("fen")
    response = correct(office, "fen", correction_of(office, "fen", mass_g="291"))
    assert (response.status_code, "reason" in response.context["form"].errors) == (400, True)


def test_changed_address_leads_on_from_the_old_one(office, client, make_shoe):
    make_shoe("fen")
    sent = correction_of(office, "fen", slug="fen-one", reason="shorter")
    assert correct(office, "fen", sent).headers["Location"] == "/catalogue/shoes/fen-one/"
    for old, new in (
        ("/shoes/fen/", "/shoes/fen-one/"),
        ("/shoes/fen/similar/?size=42", "/shoes/fen-one/similar/?size=42"),
        ("/shoes/fen/picture.png", "/shoes/fen-one/picture.png"),
        ("/catalogue/shoes/fen/", "/catalogue/shoes/fen-one/"),
    ):
        response = client.get(old)
        assert (response.status_code, response.headers["Location"]) == (301, new)


def test_shoe_is_discontinued_with_a_reason(office, make_shoe):
    shoe = make_shoe("fen")
    address = reverse("catalogue:record-discontinue", args=["fen"])
    office.post(address, {"reason": ""})
    shoe.refresh_from_db()
    assert not shoe.is_discontinued
    office.post(address, {"reason": "maker says so"})
    shoe.refresh_from_db()
    assert shoe.is_discontinued
    assert "discontinued this shoe" in text_of(office.get("/shoes/fen/"))


def test_versions_are_linked_and_the_link_removed(office, make_shoe):
    make_shoe("fen-1")
    second, third = make_shoe("fen-2"), make_shoe("fen-3")
    office.post(reverse("catalogue:record-previous", args=["fen-2"]), {"other": "fen-1", "reason": "line"})
    office.post(reverse("catalogue:record-next", args=["fen-2"]), {"other": "fen-3", "reason": "line"})
    second.refresh_from_db()
    third.refresh_from_db()
    assert (second.previous.slug, third.previous.slug) == ("fen-1", "fen-2")
    office.post(reverse("catalogue:record-unlink", args=["fen-2"]), {"reason": "not the same line"})
    second.refresh_from_db()
    assert second.previous is None


def test_circle_of_versions_is_refused_on_the_page(office, make_shoe):
    first = make_shoe("fen-1")
    make_shoe("fen-2", previous=first)
    response = office.post(reverse("catalogue:record-previous", args=["fen-1"]), {"other": "fen-2", "reason": "x"})
    assert (response.status_code, "later version" in text_of(response)) == (400, True)


def test_duplicate_is_merged_and_its_page_says_where_it_went(office, client, make_shoe):
    make_shoe("fen")
    make_shoe("fenn", published=False)
    page = text_of(office.get(reverse("catalogue:record-merge", args=["fenn"]), {"q": "fen"}))
    assert "Corvane fen 1" in page
    response = office.post(reverse("catalogue:record-merge", args=["fenn"]), {"other": "fen", "reason": "twice"})
    assert response.headers["Location"] == "/catalogue/shoes/fen/"
    assert "was merged into" in text_of(office.get("/catalogue/shoes/fenn/"))
    assert client.get("/shoes/fenn/").headers["Location"] == "/shoes/fen/"


def test_brand_is_corrected(office, make_shoe):
    make_shoe("fen")
    address = reverse("catalogue:brand-detail", args=["corvane"])
    assert office.post(address, {"name": "Corvane & Co", "reason": "new firm"}).status_code == 302
    assert "new firm" in text_of(office.get(address))


@pytest.mark.parametrize("name", ["record-list", "record-new", "brand-list"])
def test_stores_have_no_part_in_it(cast, sign_in, name):
    assert sign_in(cast.manager_a).get(reverse(f"catalogue:{name}")).status_code == 403


@pytest.mark.parametrize(
    ("address", "queries"),
    [
        ("/catalogue/shoes/", 6),
        ("/catalogue/shoes/?q=shoe&brand=corvane&state=published", 7),
        ("/catalogue/shoes/shoe-0/", 10),
        ("/catalogue/shoes/shoe-0/correct/", 8),
        ("/catalogue/shoes/shoe-0/merge/", 5),
        ("/catalogue/new-shoe/", 6),
        ("/catalogue/brands/", 5),
        ("/catalogue/brands/corvane/", 5),
    ],
)
def test_queries_do_not_grow_with_the_shoes(office, make_shoe, address, queries):
    counted = []
    for numbers in (range(2), range(2, 8)):
        for number in numbers:
            make_shoe(f"shoe-{number}", alternative_names=["x"])
        office.get(address)
        with CaptureQueriesContext(connection) as captured:
            assert office.get(address).status_code == 200
        counted.append(len(captured))
    assert counted == [queries, queries]
