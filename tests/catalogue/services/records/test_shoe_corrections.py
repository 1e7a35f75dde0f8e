"""Brands and shoes: added, corrected, linked, discontinued."""

from __future__ import annotations

from decimal import Decimal

import pytest

from catalogue.models import Shoe, ShoeSearch
from catalogue.services import (
    Barcode,
    Duplicate,
    ShoeOvertaken,
    brand_correct,
    brand_create,
    shoe_correct,
    shoe_create,
    shoe_discontinue,
    shoe_edition,
    shoe_link,
)
from core import audit
from core.audit.verification import faults
from core.domain.errors import DomainError
from tests.people import person
from tests.shared import shared

# Numbers with check digits of our own making.
GTIN, OTHER_GTIN = "4001234567891", "4001234567990"


@shared
def actor(db):
    return person("corrector", "technician")


@shared
def brand(db):
    return brand_create(actor=None, name="Odderby")


@shared
def shoe(brand):
    barcodes = [Barcode(GTIN, Decimal("42"))]
    return shoe_create(actor=None, brand=brand, name="Fen", version="1", mass_g=280.0, barcodes=barcodes)


def last_entry(record):
    return audit.entries_of(record).order_by("-id").first()


def test_addresses_are_made_from_the_names(shoe, brand):
    assert brand.slug == "odderby"
    assert shoe.slug == "odderby-fen-1"


def test_two_names_with_one_address_get_two(shoe, brand):
    assert shoe_create(actor=None, brand=brand, name="Fen-1").slug == "odderby-fen-1-2"


@pytest.mark.parametrize("name", ["Odderby", "ODDERBY", " odderby "])
def test_brand_twice_is_refused_naming_it(brand, name):
    with pytest.raises(Duplicate, match="Odderby") as refused:
        brand_create(actor=None, name=name)
    assert refused.value.status == 409


@pytest.mark.parametrize("name", ["FEN", " fen "])
def test_shoe_twice_is_refused_naming_it_whatever_the_case(shoe, brand, name):
    with pytest.raises(Duplicate, match=r"Odderby Fen 1 \(odderby-fen-1\)"):
        shoe_create(actor=None, brand=brand, name=name, version="1")


def test_barcode_of_another_shoe_is_refused_naming_it(shoe, brand):
    with pytest.raises(Duplicate, match=rf"{GTIN} belongs to Odderby Fen 1"):
        shoe_create(actor=None, brand=brand, name="Marsh", barcodes=[Barcode("0" + GTIN, Decimal("40"))])
    assert not Shoe.objects.filter(name="Marsh").exists()


def test_correction_is_in_the_trail_with_its_reason(shoe, actor):
    shoe_correct(actor=actor, shoe=shoe, changes={"mass_g": 291.0, "widths": ["D", "2E", "D"]}, reason="scale was off")
    entry = last_entry(shoe).content
    assert entry["reason"] == "scale was off"
    assert entry["before"] == {"mass_g": 280.0, "widths": []}
    assert (entry["after"]["mass_g"], entry["after"]["widths"]) == (291.0, ["D", "2E"])
    assert list(faults()) == []


def test_correction_without_a_change_writes_no_entry(shoe, actor):
    shoe_correct(actor=actor, shoe=shoe, changes={"mass_g": 280.0}, reason="looked again")
    assert last_entry(shoe).action == "catalogue.shoe.created"


def test_correction_needs_a_reason(shoe, actor):
    with pytest.raises(DomainError, match="Say why"):
        shoe_correct(actor=actor, shoe=shoe, changes={"mass_g": 291.0}, reason=" ")


def test_barcodes_are_replaced(shoe, actor):
    barcodes = [Barcode(OTHER_GTIN, Decimal("43"), "2E")]
    shoe_correct(actor=actor, shoe=shoe, changes={}, reason="new labels", barcodes=barcodes)
    assert [(row.gtin, row.width) for row in shoe.barcodes.all()] == [("0" + OTHER_GTIN, "2E")]
    assert last_entry(shoe).content["before"]["barcodes"][0]["gtin"] == "0" + GTIN
    assert list(faults()) == []


def test_name_is_corrected_and_the_address_stays(shoe, actor):
    changed = shoe_correct(actor=actor, shoe=shoe, changes={"name": "Fenlight"}, reason="maker's spelling")
    assert (changed.title, changed.slug) == ("Fenlight 1", "odderby-fen-1")


def test_old_address_leads_to_the_new_one_and_can_be_taken_back(shoe, actor):
    shoe_correct(actor=actor, shoe=shoe, changes={"slug": "fen-one"}, reason="shorter")
    assert list(shoe.old_addresses.values_list("slug", flat=True)) == ["odderby-fen-1"]
    shoe_correct(actor=actor, shoe=shoe, changes={"slug": "odderby-fen-1"}, reason="as before")
    assert list(shoe.old_addresses.values_list("slug", flat=True)) == ["fen-one"]
    assert list(faults()) == []


def test_address_that_another_shoe_had_is_not_given_away(shoe, brand, actor):
    shoe_correct(actor=actor, shoe=shoe, changes={"slug": "fen-one"}, reason="shorter")
    with pytest.raises(Duplicate, match="leads to fen-one"):
        shoe_create(actor=None, brand=brand, name="Marsh", slug="odderby-fen-1")
    assert shoe_create(actor=None, brand=brand, name="Fen 1").slug == "odderby-fen-1-2"


def test_second_of_two_people_is_refused_and_learns_what_changed(shoe, actor):
    seen = shoe_edition(shoe)
    shoe_correct(actor=actor, shoe=shoe, changes={"mass_g": 291.0}, reason="first", edition=seen)
    with pytest.raises(ShoeOvertaken) as refused:
        shoe_correct(actor=actor, shoe=shoe, changes={"season": "2027"}, reason="second", edition=seen)
    assert refused.value.names == ("mass_g",)
    assert refused.value.edition == shoe_edition(shoe)
    shoe.refresh_from_db()
    assert (shoe.mass_g, shoe.season) == (291.0, "")


def test_alternative_names_are_searched(shoe, actor):
    shoe_correct(actor=actor, shoe=shoe, changes={"alternative_names": ["Bogtrotter"]}, reason="shop name")
    assert "'bogtrotter'" in ShoeSearch.objects.get(shoe=shoe).document
    brand_correct(actor=actor, brand=shoe.brand, name="Odderby & Daughters", reason="new firm")
    document = ShoeSearch.objects.get(shoe=shoe).document
    assert "'bogtrotter'" in document
    assert "'daughters'" in document


@pytest.mark.parametrize(
    ("prices", "problem"),
    [
        ({"SEK": "900"}, "SEK is not a currency of our stores"),
        ({"EUR": "-1"}, "above 0"),
        ({"EUR": "nan"}, "above 0"),
        ({"EUR": "19.999"}, "two decimals"),
        ({"EUR": "much"}, "above 0"),
    ],
)
def test_prices_that_are_none_are_refused(shoe, actor, prices, problem):
    with pytest.raises(DomainError, match=problem):
        shoe_correct(actor=actor, shoe=shoe, changes={"list_prices": prices}, reason="list")


def test_price_in_the_currency_of_a_store(shoe, actor, make_store):
    store = make_store()
    store.currency = "SEK"
    store.save()
    prices = {"SEK": Decimal("1495"), "EUR": "139.9"}
    changed = shoe_correct(actor=actor, shoe=shoe, changes={"list_prices": prices}, reason="list")
    assert changed.list_prices == {"EUR": "139.90", "SEK": "1495.00"}


def test_sizes_out_of_order_are_refused(shoe, actor):
    changes = {"smallest_size_eu": Decimal(44), "largest_size_eu": Decimal(40)}
    with pytest.raises(DomainError, match="smallest size must not be above"):
        shoe_correct(actor=actor, shoe=shoe, changes=changes, reason="sizes")


def test_discontinued_and_made_again(shoe, actor):
    assert shoe_discontinue(actor=actor, shoe=shoe, reason="gone").is_discontinued
    assert last_entry(shoe).action == "catalogue.shoe.discontinued"
    assert not shoe_discontinue(actor=actor, shoe=shoe, reason="back", is_discontinued=False).is_discontinued
    assert last_entry(shoe).action == "catalogue.shoe.resumed"


def test_versions_can_not_run_in_a_circle(shoe, brand, actor):
    second = shoe_create(actor=None, brand=brand, name="Fen", version="2", previous=shoe)
    with pytest.raises(DomainError, match="later version"):
        shoe_link(actor=actor, shoe=shoe, previous=second, reason="wrong")
    with pytest.raises(DomainError, match="already has the next version odderby-fen-2"):
        shoe_create(actor=None, brand=brand, name="Fen", version="3", previous=shoe)
    assert shoe_link(actor=actor, shoe=second, previous=None, reason="not related").previous is None
