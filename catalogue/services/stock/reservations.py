"""Pairs set aside for a customer for some days."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from catalogue.domain.ordering import UNKNOWN_WIDTH, short_width
from catalogue.models import MovementKind, Reservation, Shoe
from catalogue.selectors.stock.stock_work import reserved_by_width, stock_by_width
from catalogue.services.stock.stock_moves import Pairs, shoe_that_stays, shoe_title, stock_move
from core import audit
from core.database.validation import check
from core.domain.errors import DomainError
from core.models import Store, User

DAYS_MOST = 14


@transaction.atomic
def reservation_make(
    *,
    actor: User | None,
    store: Store,
    shoe: Shoe,
    size_eu: Decimal,
    quantity: int,
    note: str,
    until: dt.date,
    width: str = "",
) -> Reservation:
    """Set pairs aside until the end of a day, at most two weeks ahead.

    Parameters
    ----------
    width : as the barcode names it or as it was typed; empty where any will do
    note : for whom: a first name or initials, nothing about health; removed when the reservation ends
    """
    # The same lock as for every change of this store's stock, so that one pair is not promised twice.
    Store.objects.select_for_update(no_key=True).get(pk=store.pk)
    _check_until(until)
    _check_free(store, Pairs(shoe, size_eu, quantity, width))
    made = Reservation(store=store, shoe=shoe, size_eu=size_eu, quantity=quantity, note=note.strip(), until=until)
    made.width, made.made_at, made.made_by = width, timezone.now(), actor
    check(made)
    made.save()
    audit.record(actor=actor, action="catalogue.reservation.made", subject=made, store=store)
    return made


def _check_until(until: dt.date) -> None:
    today = timezone.localdate()
    if not today <= until <= today + dt.timedelta(days=DAYS_MOST):
        message = f"Choose a day from today to {DAYS_MOST} days ahead."
        raise DomainError(message, code="bad_day", fields={"until": [message]})


def _check_free(store: Store, wanted: Pairs) -> None:
    """Refuse to promise more pairs of a size, or of a width of it, than the store has free."""
    held = stock_by_width(store, [wanted.shoe.pk]).get(wanted.place, {})
    reserved = reserved_by_width(store, [wanted.shoe.pk]).get(wanted.place, Counter())
    short = short_width(held, reserved + Counter({wanted.width: wanted.quantity}))
    if short is None:
        return
    title = f"{store.name} has {{}} of {shoe_title(wanted.shoe)} in this size"
    if short == UNKNOWN_WIDTH:
        words = f"{title.format(sum(held.values()))}, {reserved.total()} of them already reserved."
    else:
        words = (
            f"{title.format(held.get(short, 0))} and width {short}, {reserved[short]} of them already reserved, and "
            f"{held.get(UNKNOWN_WIDTH, 0)} whose width is not known."
        )
    raise DomainError(words, code="too_few", status=409, fields={"size": [words]})


@transaction.atomic
def reservation_close(*, actor: User | None, reservation: Reservation, outcome: Reservation.Outcome) -> Reservation:
    """End a reservation: the pairs are collected, and sold with it, or released."""
    rows = Reservation.objects.select_for_update(of=("self",)).select_related("store", "shoe__brand")
    held = rows.get(pk=reservation.pk)
    if held.closed_at is not None:
        raise DomainError("This reservation has already ended.", code="reservation_closed", status=409)
    before = audit.snapshot(held)
    held.closed_at, held.closed_by, held.outcome, held.note = timezone.now(), actor, outcome, ""
    held.save()
    if outcome == Reservation.Outcome.COLLECTED:
        pairs = [Pairs(shoe_that_stays(held.shoe), held.size_eu, held.quantity, held.width)]
        stock_move(actor=actor, store=held.store, kind=MovementKind.SOLD, pairs=pairs)
    action = f"catalogue.reservation.{outcome.value}"
    audit.record(actor=actor, action=action, subject=held, before=before, store=held.store)
    return held


def reservation_notes_clear() -> int:
    """Remove the notes of reservations whose last day is over; returns how many. The trail never had them."""
    return Reservation.objects.filter(until__lt=timezone.localdate()).exclude(note="").update(note="")
