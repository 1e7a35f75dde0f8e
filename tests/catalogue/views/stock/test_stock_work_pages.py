"""The pages of a store's stock work: booking by name and barcode, history, transfers, reservations, order list."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from catalogue.models import MovementKind, Reservation, Shoe, ShoeBarcode, StockItem, StockMovement, StockTransfer
from catalogue.services import Pairs, reservation_make, stock_move, transfer_send
from core.gate.access import Role
from core.models import Store
from tests.people import person
from tests.shared import shared

GTIN = "4001234567891"
SIZE = Decimal("42.0")


@shared
def shoe(make_shoe):
    return make_shoe("corvane-lantern-1", name="Lantern", version="1")


@shared
def stocked(cast, shoe):
    stock_move(actor=None, store=cast.store_a, kind=MovementKind.RECEIVED, pairs=[Pairs(shoe, SIZE, 5)])
    return shoe


@pytest.fixture
def manager(cast, sign_in):
    return sign_in(cast.manager_a)


def page(name, *args, store="store-a"):
    return reverse(f"catalogue:{name}", args=[store, *args])


def book(client, **data):
    given = {"kind": "received", "shoe": "Corvane Lantern 1", "size": "EU 42", "quantity": "1"}
    return client.post(page("stock-book"), {**given, **data})


def pairs_here(size=SIZE, store="store-a"):
    return StockItem.objects.filter(store__slug=store, size_eu=size).values_list("quantity", flat=True).first()


def test_pairs_are_received_by_the_shoes_name(manager, shoe):
    response = book(manager, shoe="lantern corv", size="uk 8.5", quantity="3")
    assert response.headers["Location"].endswith("?kind=received")
    text = manager.get(response.headers["Location"]).content.decode()
    assert "Corvane Lantern 1, EU 42.5: 3 received, 3 here now." in text
    assert pairs_here(Decimal("42.5")) == 3


def test_scanned_barcode_names_shoe_size_and_width(manager, shoe):
    ShoeBarcode.objects.create(shoe=shoe, gtin=GTIN.zfill(14), size_eu=SIZE, width="2E")
    assert book(manager, shoe=GTIN, size="").status_code == 302
    assert pairs_here() == 1
    assert StockMovement.objects.get().width == "2E"


def test_width_can_be_typed_and_is_spelt_as_the_shoe_has_it(manager, shoe):
    Shoe.objects.filter(pk=shoe.pk).update(widths=["D", "2E"])
    assert book(manager, width="2e").status_code == 302
    assert StockMovement.objects.get().width == "2E"
    text = book(manager, width="4E").content.decode()
    assert "Corvane Lantern 1 comes in D, 2E. Leave the width empty" in text
    assert pairs_here() == 1


def test_two_widths_of_a_size_are_two_lines_of_a_transfer(manager, cast, stocked):
    Shoe.objects.filter(pk=stocked.pk).update(widths=["D", "2E"])
    data = {"to_store": cast.store_b.pk, "form-TOTAL_FORMS": "2", "form-INITIAL_FORMS": "0"}
    for number, width in enumerate(("D", "2E")):
        line = {"shoe": "Corvane Lantern 1", "size": "EU 42", "quantity": "1", "width": width}
        data |= {f"form-{number}-{name}": value for name, value in line.items()}
    assert manager.post(page("transfer-new"), data).status_code == 302
    text = manager.get(page("transfer-detail", StockTransfer.objects.get().pk)).content.decode()
    assert "Corvane Lantern 1, EU 42, width D" in text
    assert "Corvane Lantern 1, EU 42, width 2E" in text


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"shoe": "4001234567891"}, "No shoe has this barcode"),
        ({"shoe": "4001234567898"}, "last digit should be 1"),
        ({"shoe": "Nothing Such"}, "No shoe has all of these words"),
        ({"shoe": ""}, "required"),
        ({"size": ""}, "Write a size like EU 42.5"),
        ({"size": "large"}, "not “large”"),
        ({"quantity": "0"}, "Write 1 or more"),
        ({"quantity": "9" * 30}, "Write 999 or less"),
        ({"kind": "counted"}, "not one of the choices"),
        ({"kind": "sold", "size": "EU 43"}, "Store A has 0 pairs"),
        ({"shoe": "two\nlines\x00"}, "characters that cannot be seen"),
    ],
)
def test_booking_that_cannot_be_is_refused_with_the_reason(manager, stocked, data, says):
    response = book(manager, **data)
    assert response.status_code in (200, 400)
    assert says in response.content.decode()
    assert StockMovement.objects.count() == 1


def test_several_matches_are_offered_and_one_is_chosen(manager, shoe, make_shoe):
    other = make_shoe("corvane-lantern-2", name="Lantern", version="2", published=False)
    response = book(manager, shoe="lantern")
    assert response.status_code == 400
    text = response.content.decode()
    assert "Corvane Lantern 1" in text
    assert f'name="chosen" value="{other.pk}"' in text
    assert book(manager, shoe="lantern", chosen=other.pk).status_code == 302
    assert StockItem.objects.get().shoe == other


def test_whole_name_is_enough_where_another_begins_alike(manager, shoe, make_shoe):
    make_shoe("corvane-lantern-12", name="Lantern", version="12", published=False)
    assert book(manager, shoe="corvane lantern 1").status_code == 302
    assert StockItem.objects.get().shoe == shoe


def test_fitter_books_and_another_store_is_not_there(cast, sign_in, stocked):
    client = sign_in(cast.fitter_a)
    assert client.get(page("stock-book")).status_code == 200
    assert client.get(page("stock-book", store="store-b")).status_code == 404
    assert client.get(page("order-list")).status_code == 403
    assert client.get(page("transfer-list")).status_code == 403


def test_history_says_what_when_and_who_by_name(manager, cast, stocked):
    book(manager, kind="sold")
    text = manager.get(page("stock-history")).content.decode()
    assert "Corvane Lantern 1" in text
    assert "corvane-lantern-1" not in text
    assert cast.manager_a.display_name in text
    only = manager.get(page("stock-history"), {"kind": "sold", "q": "lant"})
    assert [line.what for line in only.context["lines"]] == ["sold"]
    assert manager.get(page("stock-history"), {"kind": "x", "page": "y"}).status_code == 400
    assert "No change matches" in manager.get(page("stock-history"), {"q": "nothing-like-it"}).content.decode()


def test_transfer_is_sent_and_received_by_the_other_store(manager, cast, client, stocked):
    data = {"to_store": cast.store_b.pk, "form-TOTAL_FORMS": "2", "form-INITIAL_FORMS": "0"}
    line = {"form-0-shoe": "Corvane Lantern 1", "form-0-size": "EU 42", "form-0-quantity": "2", "form-1-quantity": "1"}
    response = manager.post(page("transfer-new"), data | line)
    assert response.status_code == 302
    sent = StockTransfer.objects.get()
    assert pairs_here() == 3
    assert manager.post(page("transfer-detail", sent.pk), {}).status_code == 403
    client.force_login(person("manager-b", Role.MANAGER, cast.store_b))
    there = page("transfer-detail", sent.pk, store="store-b")
    assert "Corvane Lantern 1, EU 42" in client.get(there).content.decode()
    assert client.post(page("transfer-back", sent.pk, store="store-b"), {"reason": "x"}).status_code == 403
    bad = client.post(there, {f"line-{sent.lines.get().pk}": "3"})
    assert bad.status_code == 400
    assert client.post(there, {f"line-{sent.lines.get().pk}": "2"}).status_code == 302
    assert pairs_here(store="store-b") == 2


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ({"form-0-quantity": "1"}, "Name at least one shoe"),
        ({"form-0-shoe": "Corvane Lantern 1", "form-0-size": "EU 42", "form-0-quantity": "9"}, "has 5 pairs"),
        ({"form-0-shoe": "Corvane Lantern 1", "form-0-size": "?", "form-0-quantity": "1"}, "Write a size"),
        ({"form-TOTAL_FORMS": "x"}, "The lines came back damaged"),
    ],
)
def test_transfer_that_cannot_be_is_refused_with_the_reason(manager, cast, stocked, line, says):
    data = {"to_store": cast.store_b.pk, "form-TOTAL_FORMS": "1", "form-INITIAL_FORMS": "0"}
    response = manager.post(page("transfer-new"), data | line)
    assert response.status_code in (200, 400)
    assert says in response.content.decode()
    assert not StockTransfer.objects.exists()


def test_transfer_of_other_stores_is_not_there(cast, sign_in, manager, stocked):
    third = Store.objects.create(slug="store-c", name="Store C")
    sent = transfer_send(actor=None, from_store=cast.store_a, to_store=cast.store_b, pairs=[Pairs(stocked, SIZE, 1)])
    client = sign_in(person("manager-c", Role.MANAGER, third))
    assert client.get(page("transfer-detail", sent.pk, store="store-c")).status_code == 404


def test_sending_store_calls_a_transfer_back_with_a_reason(manager, cast, stocked):
    sent = transfer_send(actor=None, from_store=cast.store_a, to_store=cast.store_b, pairs=[Pairs(stocked, SIZE, 1)])
    assert manager.post(page("transfer-back", sent.pk), {"reason": ""}).status_code == 400
    assert manager.post(page("transfer-back", sent.pk), {"reason": "sold here"}).status_code == 302
    assert pairs_here() == 5


def reservation(**data):
    until = timezone.localdate() + dt.timedelta(days=2)
    given = {"shoe": "Corvane Lantern 1", "size": "EU 42", "quantity": "1", "until": until, "note": "Wren"}
    return {**given, **data}


def test_pair_is_reserved_and_sold_with_the_reservation(cast, sign_in, stocked):
    client = sign_in(cast.fitter_a)
    assert client.post(page("reservation-list"), reservation()).status_code == 302
    made = Reservation.objects.get()
    assert "Wren" in client.get(page("reservation-list")).content.decode()
    assert client.post(page("reservation-end", made.pk), {"outcome": "eaten"}).status_code == 302
    assert client.post(page("reservation-end", made.pk), {"outcome": "collected"}).status_code == 302
    assert pairs_here() == 4
    assert "Wren" not in client.get(page("reservation-list")).content.decode()
    assert client.post(page("reservation-end", made.pk), {"outcome": "released"}).status_code == 302


def test_reservation_of_another_store_is_not_there(cast, sign_in, stocked):
    until = timezone.localdate()
    made = reservation_make(
        actor=None, store=cast.store_a, shoe=stocked, size_eu=SIZE, quantity=1, note="", until=until
    )
    client = sign_in(cast.fitter_b)
    assert client.post(page("reservation-end", made.pk, store="store-b"), {"outcome": "released"}).status_code == 404
    assert client.get(page("reservation-list")).status_code == 404


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"until": "2999-01-01"}, "14 days ahead"),
        ({"until": "soon"}, "valid date"),
        ({"size": "EU 43"}, "has 0 of Corvane Lantern 1"),
        ({"quantity": "10"}, "Write 9 or less"),
        ({"note": "x" * 41}, "at most 40"),
    ],
)
def test_reservation_that_cannot_be_is_refused_with_the_reason(manager, stocked, data, says):
    response = manager.post(page("reservation-list"), reservation(**data))
    assert response.status_code in (200, 400)
    assert says in response.content.decode()
    assert not Reservation.objects.exists()


def test_order_list_adds_up_what_is_wanted(manager, cast, stocked):
    book(manager, kind="sold", quantity="4")
    book(manager, kind="returned")
    manager.post(page("reservation-list"), reservation())
    (row,) = manager.get(page("order-list")).context["rows"]
    assert (row.line.title, row.size) == ("Corvane Lantern 1", "EU 42")
    line = row.line.count
    assert (line.held, line.reserved, line.sold, line.chosen) == (2, 1, 3, 0)
    # 3 sold and 1 reserved, less 2 in stock
    assert line.to_order == 2
    rows = manager.get(page("order-list"), {"as": "csv"}).getvalue().decode().splitlines()
    assert rows[1] == "Corvane Lantern 1,EU 42,,2,1,0,3,0,2"


def test_pairs_on_the_way_are_not_ordered_again(manager, cast, client, stocked):
    book(manager, kind="sold", quantity="5")
    stock_move(actor=None, store=cast.store_b, kind=MovementKind.RECEIVED, pairs=[Pairs(stocked, SIZE, 3)])
    transfer_send(actor=None, from_store=cast.store_b, to_store=cast.store_a, pairs=[Pairs(stocked, SIZE, 3)])
    (row,) = manager.get(page("order-list")).context["rows"]
    assert (row.line.count.on_the_way, row.line.count.to_order) == (3, 2)


def test_order_list_has_a_line_for_each_width_that_a_barcode_names(manager, cast, stocked):
    ShoeBarcode.objects.create(shoe=stocked, gtin=GTIN.zfill(14), size_eu=SIZE, width="2E")
    book(manager, shoe=GTIN, quantity="3")
    book(manager, kind="sold", shoe=GTIN, quantity="2")
    book(manager, kind="sold", quantity="4")
    manager.post(page("reservation-list"), reservation(shoe=GTIN))
    stock_move(actor=None, store=cast.store_b, kind=MovementKind.RECEIVED, pairs=[Pairs(stocked, SIZE, 1, "2E")])
    sent = [Pairs(stocked, SIZE, 1, "2E")]
    transfer_send(actor=None, from_store=cast.store_b, to_store=cast.store_a, pairs=sent)
    rows = manager.get(page("order-list")).context["rows"]
    counts = {row.line.count.width: row.line.count for row in rows}
    wide, unknown = counts["2E"], counts[""]
    assert (wide.held, wide.reserved, wide.on_the_way, wide.sold, wide.to_order) == (1, 1, 1, 2, 1)
    assert (unknown.held, unknown.sold, unknown.to_order) == (1, 4, 3)
    assert '<td data-label="Width">2E</td>' in manager.get(page("order-list")).content.decode()


@pytest.mark.parametrize("name", ["stock-book", "stock-history", "reservation-list", "order-list", "stock-edit"])
def test_pages_write_sizes_as_the_store_does(manager, cast, stocked, name):
    book(manager, kind="sold")
    manager.post(page("reservation-list"), reservation())
    wanted = {"sizes": "42"} if name == "stock-edit" else {}
    assert "UK 8.5" not in manager.get(page(name), wanted).content.decode()
    Store.objects.filter(pk=cast.store_a.pk).update(size_system="uk")
    text = manager.get(page(name), wanted).content.decode()
    assert "UK 8.5" in text
    assert "approximate" in text


def test_office_sets_how_a_store_writes_sizes(cast, sign_in):
    client = sign_in(cast.office)
    data = {"name": "Store A", "size_system": "us"}
    assert client.post(reverse("core:store-edit", args=["store-a"]), data).status_code == 302
    assert Store.objects.get(slug="store-a").size_system == "us"


@pytest.mark.parametrize(
    ("name", "queries"),
    [("stock-book", 8), ("stock-history", 7), ("transfer-list", 7), ("reservation-list", 8), ("order-list", 11)],
)
def test_pages_cost_the_same_for_many(manager, cast, stocked, make_shoe, name, queries, django_assert_max_num_queries):
    for number in range(8):
        shoe = make_shoe(f"corvane-more-{number}", name=f"More {number}", published=False)
        pairs = [Pairs(shoe, Decimal(size), 3) for size in (40, 41, 42)]
        stock_move(actor=cast.manager_a, store=cast.store_a, kind=MovementKind.RECEIVED, pairs=pairs)
        stock_move(actor=cast.manager_a, store=cast.store_a, kind=MovementKind.SOLD, pairs=[pairs[0]])
        transfer_send(actor=cast.manager_a, from_store=cast.store_a, to_store=cast.store_b, pairs=[pairs[1]])
        reservation_make(
            actor=cast.manager_a,
            store=cast.store_a,
            shoe=shoe,
            size_eu=SIZE,
            quantity=1,
            note="",
            until=timezone.localdate(),
        )
    with django_assert_max_num_queries(queries):
        assert manager.get(page(name)).status_code == 200
