"""Transfers between our own stores: sent by one, received by the other, or called back before they arrive."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone

from catalogue.models import MovementKind, StockTransfer, TransferLine
from catalogue.services.stock.stock_moves import Pairs, shoe_that_stays, stock_move
from core import audit
from core.database.validation import check
from core.domain.errors import DomainError
from core.models import Store, User


@transaction.atomic
def transfer_send(*, actor: User | None, from_store: Store, to_store: Store, pairs: Sequence[Pairs]) -> StockTransfer:
    """Take pairs out of a store's stock and put them on the way to another store."""
    units = [one.unit for one in pairs]
    if len(set(units)) < len(units):
        raise DomainError("The same size and width of a shoe is on two lines. Write it once.", code="listed_twice")
    transfer = StockTransfer(from_store=from_store, to_store=to_store, sent_at=timezone.now(), sent_by=actor)
    check(transfer)
    transfer.save()
    stock_move(actor=actor, store=from_store, kind=MovementKind.SENT, pairs=pairs, transfer=transfer)
    TransferLine.objects.bulk_create(
        TransferLine(transfer=transfer, shoe=one.shoe, size_eu=one.size_eu, width=one.width, quantity=one.quantity)
        for one in pairs
    )
    audit.record(actor=actor, action="catalogue.transfer.sent", subject=transfer, store=from_store)
    return transfer


def _open(transfer: StockTransfer) -> StockTransfer:
    row = StockTransfer.objects.select_for_update(of=("self",)).select_related("from_store", "to_store")
    held = row.get(pk=transfer.pk)
    if held.state != StockTransfer.State.SENT:
        words = held.get_state_display()
        raise DomainError(f"This transfer was already {words}.", code="transfer_closed", status=409)
    return held


@transaction.atomic
def transfer_receive(*, actor: User | None, transfer: StockTransfer, received: Mapping[int, int]) -> StockTransfer:
    """Add the pairs that arrived to the receiving store's stock.

    Parameters
    ----------
    received : pairs by line, each from 0 to what was sent; what did not arrive is in neither stock
    """
    held = _open(transfer)
    before = audit.snapshot(held)
    lines = list(held.lines.select_related("shoe__brand"))
    for line in lines:
        line.received = received.get(line.pk, -1)
        if not 0 <= line.received <= line.quantity:
            message = f"Write how many pairs arrived, from 0 to the {line.quantity} that were sent."
            raise DomainError(message, code="bad_quantity", fields={f"line-{line.pk}": [message]})
    TransferLine.objects.bulk_update(lines, ["received"])
    arrived = [
        Pairs(shoe_that_stays(line.shoe), line.size_eu, line.received, line.width) for line in lines if line.received
    ]
    if arrived:
        stock_move(actor=actor, store=held.to_store, kind=MovementKind.ARRIVED, pairs=arrived, transfer=held)
    return _close(held, StockTransfer.State.RECEIVED, actor=actor, before=before, store=held.to_store)


@transaction.atomic
def transfer_call_back(*, actor: User | None, transfer: StockTransfer, reason: str) -> StockTransfer:
    """Put the pairs back into the stock of the store that sent them."""
    held = _open(transfer)
    before = audit.snapshot(held)
    pairs = [
        Pairs(shoe_that_stays(line.shoe), line.size_eu, line.quantity, line.width)
        for line in held.lines.select_related("shoe__brand")
    ]
    stock_move(actor=actor, store=held.from_store, kind=MovementKind.CALLED_BACK, pairs=pairs, transfer=held)
    back = StockTransfer.State.CALLED_BACK
    return _close(held, back, actor=actor, before=before, store=held.from_store, reason=reason)


def _close(
    transfer: StockTransfer,
    state: StockTransfer.State,
    *,
    actor: User | None,
    before: dict[str, Any],
    store: Store,
    reason: str = "",
) -> StockTransfer:
    transfer.state, transfer.closed_at, transfer.closed_by = state, timezone.now(), actor
    check(transfer)
    transfer.save()
    action = f"catalogue.transfer.{state.value}"
    audit.record(actor=actor, action=action, subject=transfer, before=before, store=store, reason=reason)
    return transfer
