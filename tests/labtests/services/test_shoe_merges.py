"""A shoe that was in the catalogue twice: what the merge does with stock, specimens, links and addresses."""

from __future__ import annotations

from decimal import Decimal

import pytest

from catalogue.models import Shoe, StockItem
from catalogue.selectors.records.shoe_records import current_address, record_get, shoes_at
from catalogue.services import Barcode, brand_create, shoe_create, shoe_merge
from core import audit
from core.audit.verification import faults
from core.domain.errors import DomainError
from core.models import Store
from labtests.models import Specimen
from tests.people import person
from tests.shared import shared
from tests.stock import stock_set

GTIN = "4001234567891"


@shared
def actor(db):
    return person("merger", "technician")


@shared
def shoes(db):
    brand = brand_create(actor=None, name="Odderby")
    stays = shoe_create(actor=None, brand=brand, name="Fen", version="2")
    gone = shoe_create(actor=None, brand=brand, name="Fen II", barcodes=[Barcode(GTIN, Decimal(42))])
    return gone, stays


@shared
def specimen(shoes):
    specimen = Specimen.objects.create(code="OD-1-L", shoe=shoes[0], size_eu=42, side="left")
    audit.record(actor=None, action="labtests.specimen.created", subject=specimen)
    return specimen


def merge(actor, shoes):
    return shoe_merge(actor=actor, duplicate=shoes[0], into=shoes[1], reason="typed twice")


def test_specimens_barcodes_and_names_go_to_the_shoe_that_stays(actor, shoes, specimen):
    stays = merge(actor, shoes)
    specimen.refresh_from_db()
    assert specimen.shoe == stays
    assert [row.gtin for row in stays.barcodes.all()] == ["0" + GTIN]
    assert stays.alternative_names == ["Fen II"]
    assert (record_get("odderby-fen-ii").state, record_get("odderby-fen-2").state) == ("merged", "draft")
    assert audit.entries_of(specimen).order_by("-id").first().content["reason"] == "typed twice"
    assert list(faults()) == []


def test_stock_is_added_size_by_size(actor, shoes):
    gone, stays = shoes
    store = Store.objects.create(slug="harbour", name="Harbour")
    audit.record(actor=None, action="core.store.created", subject=store)
    for shoe, size, pairs in ((gone, 42, 2), (gone, 43, 1), (stays, 42, 3)):
        stock_set(actor=None, store=store, shoe=shoe, size_eu=Decimal(size), quantity=pairs)
    merge(actor, shoes)
    lines = StockItem.objects.values_list("shoe__slug", "size_eu", "quantity").order_by("size_eu")
    assert list(lines) == [("odderby-fen-2", 42, 5), ("odderby-fen-2", 43, 1)]
    assert list(faults()) == []


def test_address_of_the_duplicate_leads_to_the_shoe_that_stays(actor, shoes):
    merge(actor, shoes)
    assert current_address("odderby-fen-ii") == "odderby-fen-2"
    assert shoes_at(["odderby-fen-ii", "no-such"]) == {"odderby-fen-ii": shoes[1]}


def test_place_between_the_versions_is_taken_over(actor, shoes):
    gone, stays = shoes
    first = shoe_create(actor=None, brand=gone.brand, name="Fen", version="1")
    third = shoe_create(actor=None, brand=gone.brand, name="Fen", version="3", previous=gone)
    Shoe.objects.filter(pk=gone.pk).update(previous=first)
    merge(actor, shoes)
    stays.refresh_from_db()
    third.refresh_from_db()
    assert (stays.previous, third.previous) == (first, stays)


def test_two_different_next_versions_are_refused(actor, shoes):
    gone, stays = shoes
    shoe_create(actor=None, brand=gone.brand, name="Fen", version="3", previous=gone)
    shoe_create(actor=None, brand=gone.brand, name="Fen", version="3b", previous=stays)
    with pytest.raises(DomainError, match="own next version: odderby-fen-3 and odderby-fen-3b"):
        merge(actor, shoes)
    assert not Shoe.objects.filter(merged_into__isnull=False).exists()


def test_shoe_is_merged_once_and_not_into_itself(actor, shoes):
    gone, stays = shoes
    with pytest.raises(DomainError, match="into itself"):
        shoe_merge(actor=actor, duplicate=gone, into=gone, reason="slip")
    merge(actor, shoes)
    with pytest.raises(DomainError, match="already merged into odderby-fen-2"):
        shoe_merge(actor=actor, duplicate=gone, into=stays, reason="again")
