"""Pairs that come and go: each change has its row and its audit entry, and no stock is ever negative."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from catalogue.models import MovementKind, Reservation, Shoe, StockItem, StockMovement, StockTransfer
from catalogue.selectors.stock.stock_work import order_lines, stock_by_width
from catalogue.services import (
    Pairs,
    StockLine,
    reservation_close,
    reservation_make,
    reservation_notes_clear,
    shoe_merge,
    stock_count_record,
    stock_move,
    transfer_call_back,
    transfer_receive,
    transfer_send,
)
from core import audit
from core.audit.verification import faults
from core.domain.errors import DomainError
from core.gate import row_scope
from core.models import AuditEntry
from tests.shared import shared
from tests.stock import stock_set

SIZE = Decimal("42.0")


@shared
def shoe(make_shoe):
    return make_shoe(published=False)


def held(store, size=SIZE):
    return StockItem.objects.filter(store=store, size_eu=size).values_list("quantity", flat=True).first()


def move(cast, shoe, kind, quantity, *, store=None, width=""):
    store = store or cast.store_a
    return stock_move(
        actor=cast.manager_a, store=store, kind=MovementKind(kind), pairs=[Pairs(shoe, SIZE, quantity, width)]
    )


def test_receiving_and_selling_move_the_stock_with_a_row_each(cast, shoe):
    (item,) = move(cast, shoe, "received", 5, width="2E")
    move(cast, shoe, "sold", 2)
    move(cast, shoe, "returned", 1)
    move(cast, shoe, "written_off", 1)
    assert held(cast.store_a) == 3
    rows = StockMovement.objects.order_by("pk").values_list("kind", "change", "pairs_after", "by", "width")
    by = cast.manager_a.pk
    assert list(rows) == [
        ("received", 5, 5, by, "2E"),
        ("sold", -2, 3, by, ""),
        ("returned", 1, 4, by, ""),
        ("written_off", -1, 3, by, ""),
    ]
    actions = list(audit.entries_of(item).order_by("id").values_list("action", flat=True))
    assert actions == [f"catalogue.stock.{kind}" for kind in ("received", "sold", "returned", "written_off")]
    assert list(faults()) == []


def test_count_leaves_a_row_where_it_changes_something(cast, shoe):
    stock_set(actor=cast.manager_a, store=cast.store_a, shoe=shoe, size_eu=SIZE, quantity=4)
    lines = [StockLine(shoe, SIZE, 3), StockLine(shoe, Decimal("43.0"), 0)]
    stock_count_record(actor=cast.manager_a, store=cast.store_a, lines=lines)
    stock_count_record(actor=cast.manager_a, store=cast.store_a, lines=lines)
    assert list(StockMovement.objects.order_by("pk").values_list("kind", "change")) == [("counted", 4), ("counted", -1)]


def test_more_than_there_is_cannot_leave_and_nothing_is_saved(cast, shoe):
    move(cast, shoe, "received", 2)
    pairs = [Pairs(shoe, Decimal("41.0"), 1), Pairs(shoe, SIZE, 1)]
    with pytest.raises(DomainError, match="Store A has 0 pairs of Corvane corvane-lantern-1 1 in this size") as refused:
        stock_move(actor=None, store=cast.store_a, kind=MovementKind.SOLD, pairs=pairs)
    assert (refused.value.code, refused.value.status) == ("too_few", 409)
    assert held(cast.store_a) == 2
    assert StockMovement.objects.count() == 1


@pytest.mark.parametrize("quantity", [0, -1, 1000])
def test_quantity_that_cannot_be_is_refused(cast, shoe, quantity):
    with pytest.raises(DomainError, match="from 1 to 999"):
        move(cast, shoe, "received", quantity)


def test_transfer_moves_both_stocks_when_it_arrives(cast, shoe):
    move(cast, shoe, "received", 5)
    sent = transfer_send(
        actor=cast.manager_a, from_store=cast.store_a, to_store=cast.store_b, pairs=[Pairs(shoe, SIZE, 3)]
    )
    assert (held(cast.store_a), held(cast.store_b)) == (2, None)
    line = sent.lines.get()
    done = transfer_receive(actor=cast.fitter_b, transfer=sent, received={line.pk: 2})
    assert (held(cast.store_a), held(cast.store_b)) == (2, 2)
    assert done.state == StockTransfer.State.RECEIVED
    entry = audit.entries_of(done).order_by("-id").first()
    assert entry.action == "catalogue.transfer.received"
    assert entry.content["after"]["lines"][0]["received"] == 2
    assert StockMovement.objects.filter(transfer=sent).count() == 2
    assert list(faults()) == []


def test_transfer_is_received_once(cast, shoe):
    move(cast, shoe, "received", 5)
    sent = transfer_send(actor=None, from_store=cast.store_a, to_store=cast.store_b, pairs=[Pairs(shoe, SIZE, 3)])
    received = {sent.lines.get().pk: 3}
    transfer_receive(actor=None, transfer=sent, received=received)
    for again in (
        lambda: transfer_receive(actor=None, transfer=sent, received=received),
        lambda: transfer_call_back(actor=None, transfer=sent, reason="late"),
    ):
        with pytest.raises(DomainError, match="already received"):
            again()
    assert held(cast.store_b) == 3


@pytest.mark.parametrize("arrived", [{}, {"all": 4}, {"all": -1}])
def test_more_than_was_sent_cannot_arrive(cast, shoe, arrived):
    move(cast, shoe, "received", 5)
    sent = transfer_send(actor=None, from_store=cast.store_a, to_store=cast.store_b, pairs=[Pairs(shoe, SIZE, 3)])
    received = {sent.lines.get().pk: pairs for pairs in arrived.values()}
    with pytest.raises(DomainError, match="from 0 to the 3 that were sent"):
        transfer_receive(actor=None, transfer=sent, received=received)
    assert held(cast.store_b) is None


def test_transfer_that_is_called_back_restores_the_stock(cast, shoe):
    move(cast, shoe, "received", 5)
    sent = transfer_send(actor=None, from_store=cast.store_a, to_store=cast.store_b, pairs=[Pairs(shoe, SIZE, 3)])
    back = transfer_call_back(actor=cast.manager_a, transfer=sent, reason="sold meanwhile")
    assert held(cast.store_a) == 5
    assert audit.entries_of(back).order_by("-id").first().content["reason"] == "sold meanwhile"


def test_transfer_needs_two_stores_and_each_size_once(cast, shoe):
    move(cast, shoe, "received", 5)
    with pytest.raises(DomainError, match="another store"):
        transfer_send(actor=None, from_store=cast.store_a, to_store=cast.store_a, pairs=[Pairs(shoe, SIZE, 1)])
    twice = [Pairs(shoe, SIZE, 1), Pairs(shoe, SIZE, 1)]
    with pytest.raises(DomainError, match="two lines"):
        transfer_send(actor=None, from_store=cast.store_a, to_store=cast.store_b, pairs=twice)
    assert held(cast.store_a) == 5


def test_two_widths_of_a_size_go_together_and_each_arrives_as_itself(cast, shoe):
    move(cast, shoe, "received", 3, width="D")
    move(cast, shoe, "received", 2, width="2E")
    both = [Pairs(shoe, SIZE, 1, "D"), Pairs(shoe, SIZE, 2, "2E")]
    sent = transfer_send(actor=cast.manager_a, from_store=cast.store_a, to_store=cast.store_b, pairs=both)
    arrived = {line.pk: line.quantity for line in sent.lines.all()}
    transfer_receive(actor=cast.manager_a, transfer=sent, received=arrived)
    rows = StockMovement.objects.filter(transfer=sent).order_by("pk")
    assert list(rows.values_list("kind", "width", "change", "pairs_after")) == [
        ("sent", "D", -1, 4),
        ("sent", "2E", -2, 2),
        ("arrived", "D", 1, 1),
        ("arrived", "2E", 2, 3),
    ]
    assert (held(cast.store_a), held(cast.store_b)) == (2, 3)
    assert stock_by_width(cast.store_a, [shoe.pk])[shoe.pk, SIZE] == {"D": 2, "": 0}
    assert list(faults()) == []


def test_reserved_pair_of_a_width_stays_and_another_width_may_go(cast, shoe):
    move(cast, shoe, "received", 1, width="D")
    move(cast, shoe, "received", 1, width="2E")
    with pytest.raises(DomainError, match=r"has 1 of .* and width D, 0 of them already reserved, and 0 whose width"):
        reserve(cast, shoe, 2, width="D")
    reserve(cast, shoe, width="D")
    with pytest.raises(DomainError, match="in this size and width D at Store A is reserved"):
        move(cast, shoe, "sold", 1, width="D")
    assert held(cast.store_a) == 2
    move(cast, shoe, "sold", 1, width="2E")
    assert held(cast.store_a) == 1


def test_pairs_on_the_way_arrive_as_the_shoe_that_stays(cast, shoe, make_shoe):
    stays = make_shoe("corvane-lantern-1b", published=False, version="1b")
    move(cast, shoe, "received", 2)
    sent = transfer_send(actor=None, from_store=cast.store_a, to_store=cast.store_b, pairs=[Pairs(shoe, SIZE, 2)])
    shoe_merge(actor=cast.office, duplicate=shoe, into=stays, reason="twice")
    transfer_receive(actor=None, transfer=sent, received={sent.lines.get().pk: 2})
    assert StockItem.objects.get(store=cast.store_b).shoe == stays


def reserve(cast, shoe, quantity=1, days=3, note="Wren", store=None, width=""):
    until = timezone.localdate() + dt.timedelta(days=days)
    return reservation_make(
        actor=cast.fitter_a,
        store=store or cast.store_a,
        shoe=shoe,
        size_eu=SIZE,
        quantity=quantity,
        note=note,
        until=until,
        width=width,
    )


def test_merge_moves_stock_history_and_open_reservations_of_every_store(cast, shoe, make_shoe):
    stays = make_shoe("corvane-lantern-1b", published=False, version="1b")
    move(cast, shoe, "received", 5, width="2E")
    move(cast, shoe, "sold", 1)
    move(cast, stays, "received", 3)
    move(cast, shoe, "received", 1, store=cast.store_b)
    made, there = reserve(cast, shoe, 2), reserve(cast, shoe, store=cast.store_b, note="Sparrow")
    ended = reserve(cast, shoe)
    reservation_close(actor=cast.fitter_a, reservation=ended, outcome=Reservation.Outcome.RELEASED)
    with row_scope.stores([]):
        # The lab and head office have no store, so they see no reservation.
        assert not Reservation.objects.exists()
        shoe_merge(actor=cast.office, duplicate=shoe, into=stays, reason="twice")
        assert not Reservation.objects.exists()
    lines = StockItem.objects.order_by("store").values_list("store", "shoe", "quantity")
    assert list(lines) == [(cast.store_a.pk, stays.pk, 7), (cast.store_b.pk, stays.pk, 1)]
    assert not StockMovement.objects.filter(shoe=shoe).exists()
    for store, shoe_now, pairs in lines:
        changes = StockMovement.objects.filter(store=store, shoe=shoe_now).values_list("change", flat=True)
        assert sum(changes) == pairs
    open_ones = Reservation.objects.filter(closed_at__isnull=True).order_by("pk").values_list("pk", "shoe", "note")
    assert list(open_ones) == [(made.pk, stays.pk, "Wren"), (there.pk, stays.pk, "Sparrow")]
    ended.refresh_from_db()
    assert ended.shoe == shoe
    entry = audit.entries_of(made).order_by("-id").first()
    assert (entry.action, entry.content["reason"]) == ("catalogue.reservation.moved", "twice")
    assert list(faults()) == []


def test_reserved_pairs_stay_reserved_and_can_be_collected_after_a_merge(cast, shoe, make_shoe):
    stays = make_shoe("corvane-lantern-1b", published=False, version="1b")
    move(cast, shoe, "received", 1)
    move(cast, stays, "received", 1)
    made = reserve(cast, shoe)
    shoe_merge(actor=cast.office, duplicate=shoe, into=stays, reason="twice")
    with pytest.raises(DomainError, match=r"2 pairs of .* 1 of them reserved"):
        move(cast, stays, "sold", 2)
    (line,) = order_lines(cast.store_a, timezone.localdate())
    assert (line.count.held, line.count.reserved) == (2, 1)
    reservation_close(actor=cast.fitter_a, reservation=made, outcome=Reservation.Outcome.COLLECTED)
    assert held(cast.store_a) == 1


def test_merge_that_is_refused_moves_nothing(cast, shoe, make_shoe):
    stays = make_shoe("corvane-lantern-1b", published=False, version="1b")
    move(cast, shoe, "received", 1)
    reserve(cast, shoe)
    Shoe.objects.filter(pk=shoe.pk).update(previous=make_shoe("first", published=False, version="0"))
    Shoe.objects.filter(pk=stays.pk).update(previous=make_shoe("other", published=False, version="0b"))
    with pytest.raises(DomainError, match="own previous version"):
        shoe_merge(actor=cast.office, duplicate=shoe, into=stays, reason="twice")
    moved = (StockItem.objects, StockMovement.objects, Reservation.objects)
    assert [rows.filter(shoe=stays).count() for rows in moved] == [0, 0, 0]


def test_reserved_pairs_are_promised_once_and_stay_in_the_store(cast, shoe):
    move(cast, shoe, "received", 2)
    reserve(cast, shoe)
    reserve(cast, shoe)
    with pytest.raises(DomainError, match="2 of them already reserved"):
        reserve(cast, shoe)
    with pytest.raises(DomainError, match="2 of them reserved"):
        move(cast, shoe, "sold", 1)
    with pytest.raises(DomainError, match="2 of them reserved"):
        transfer_send(actor=None, from_store=cast.store_a, to_store=cast.store_b, pairs=[Pairs(shoe, SIZE, 1)])
    assert held(cast.store_a) == 2


def test_collected_reservation_sells_the_pair_and_forgets_the_name(cast, shoe):
    move(cast, shoe, "received", 1)
    made = reserve(cast, shoe)
    done = reservation_close(actor=cast.fitter_a, reservation=made, outcome=Reservation.Outcome.COLLECTED)
    assert held(cast.store_a) == 0
    assert done.note == ""
    with pytest.raises(DomainError, match="already ended"):
        reservation_close(actor=None, reservation=made, outcome=Reservation.Outcome.RELEASED)
    assert list(faults()) == []


def test_released_and_expired_reservations_hold_nothing(cast, shoe):
    move(cast, shoe, "received", 1)
    reservation_close(actor=None, reservation=reserve(cast, shoe), outcome=Reservation.Outcome.RELEASED)
    made = reserve(cast, shoe)
    Reservation.objects.filter(pk=made.pk).update(until=timezone.localdate() - dt.timedelta(days=1))
    move(cast, shoe, "sold", 1)
    assert held(cast.store_a) == 0


def test_note_never_enters_the_trail_and_goes_when_the_days_are_over(cast, shoe):
    move(cast, shoe, "received", 1)
    made = reserve(cast, shoe, note="Quillon")
    assert not AuditEntry.objects.filter(payload__contains="Quillon").exists()
    assert reservation_notes_clear() == 0
    Reservation.objects.filter(pk=made.pk).update(until=timezone.localdate() - dt.timedelta(days=1))
    assert reservation_notes_clear() == 1
    assert Reservation.objects.get().note == ""


@pytest.mark.parametrize("days", [-1, 15])
def test_reservation_runs_for_two_weeks_at_most(cast, shoe, days):
    move(cast, shoe, "received", 1)
    with pytest.raises(DomainError, match="14 days"):
        reserve(cast, shoe, days=days)


def test_another_store_does_not_see_reservations(cast, shoe):
    move(cast, shoe, "received", 1)
    reserve(cast, shoe)
    with row_scope.stores([cast.store_b.pk]):
        assert not Reservation.objects.exists()
    with row_scope.figures():
        assert not Reservation.objects.exists()
