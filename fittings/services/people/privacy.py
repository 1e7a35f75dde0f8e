"""What a person may ask for: to see what is held on them, to withdraw their consent, to be removed.

Both removals go through every protected table of customers. The trail has that it was done, to which numbers, by whom;
never what was removed, which it did not hold in the first place.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.db import models, transaction
from django.db.models import F
from django.utils import timezone

from core import audit
from core.audit import Change
from core.domain.errors import DomainError
from core.domain.quoting import quoted
from core.models import User
from fittings.domain.disclosure.hiding import SMALL_CELL
from fittings.models import Customer, Fitting, FollowUp, RemovedCount
from fittings.selectors.people.personal_data import (
    cells_of,
    export_of,
    people_in_cell,
    rows_held,
    silent_since,
    tables_of_customers,
)
from fittings.services.fitting.checks import require

ASKED = {
    "in-person": "asked for in the store",
    "in-writing": "asked for in writing",
    "by-telephone": "asked for by telephone",
}
"""Why something was done. A choice and no free text: the trail can't be changed, so nothing personal may enter it."""

RETENTION_OVER = "the retention period is over"
_STAYS = frozenset({"id", "store", "fitter", "at", "kept"})
"""What stays of a fitting without consent, as of one that never had it."""


def _locked(customer: Customer) -> Customer:
    locked = Customer.objects.select_for_update(of=("self",)).select_related("store").filter(pk=customer.pk).first()
    if locked is None:
        raise DomainError("This customer has been removed in the meantime.", code="not_found", status=404)
    return locked


def _reason(key: str) -> str:
    if key not in ASKED:
        message = f"Say how it was asked for: one of {', '.join(ASKED)}, got {quoted(key)}"
        raise DomainError(message, code="invalid", fields={"reason": [message]})
    return ASKED[key]


@transaction.atomic
def customer_export(*, actor: User, customer: Customer, reason: str) -> dict[str, Any]:
    """Return everything held on a customer, and note in the trail that it was handed out."""
    customer = _locked(customer)
    require(actor, "fittings.customer:export", customer.store)
    given = _reason(reason)
    before = audit.snapshot(customer)
    audit.record(
        actor=actor,
        action="fittings.customer.exported",
        subject=customer,
        before=before,
        reason=given,
        store=customer.store,
    )
    return export_of(customer)


@transaction.atomic
def customer_withdraw(*, actor: User, customer: Customer, reason: str) -> None:
    """End a customer's consent: what is held goes; that fittings took place stays, as without consent.

    They stay in the anonymous counts wherever at least five people are counted together with them.
    """
    customer = _locked(customer)
    require(actor, "fittings.customer:withdraw", customer.store)
    _empty(customer, actor=actor, action="fittings.customer.withdrew", reason=_reason(reason))


@transaction.atomic
def customer_erase(*, actor: User, customer: Customer, reason: str) -> None:
    """Remove a customer with everything held on them, the fittings themselves and every count included."""
    customer = _locked(customer)
    require(actor, "fittings.customer:erase", customer.store)
    _remove(customer, actor=actor, action="fittings.customer.erased", reason=_reason(reason), spared=())


def _empty(customer: Customer, *, actor: User | None, action: str, reason: str) -> None:
    _keep_counts(customer)
    fittings = list(Fitting.objects.filter(customer=customer).order_by("pk"))
    before = audit.snapshots(Fitting, [fitting.pk for fitting in fittings])
    for fitting in fittings:
        _make_bare(fitting)
    # The fittings no longer lead to the customer: what hangs on them goes first.
    _remove(customer, actor=actor, action=action, reason=reason, spared=fittings)
    audit.record_many(
        [
            Change("fittings.fitting.emptied", fitting, before[fitting.pk], reason, customer.store)
            for fitting in fittings
        ],
        actor=actor,
    )


def _make_bare(fitting: Fitting) -> None:
    """Leave of a fitting what is kept of one without consent: every other column as if never filled in."""
    for column in fitting._meta.concrete_fields:
        if column.name not in _STAYS:
            setattr(fitting, column.attname, None if column.null else column.get_default())
    fitting.kept, fitting.link_nonce = False, ""


def _keep_counts(customer: Customer) -> None:
    for cell in cells_of(customer):
        if people_in_cell(customer, cell) < SMALL_CELL:
            continue
        year, inside, recurred = cell
        count, is_new = RemovedCount.objects.get_or_create(
            store=customer.store, year=year, in_target=inside, recurred=recurred, defaults={"people": 1}
        )
        if not is_new:
            RemovedCount.objects.filter(pk=count.pk).update(people=F("people") + 1)


def _remove(
    customer: Customer, *, actor: User | None, action: str, reason: str, spared: list[Fitting] | tuple[()]
) -> None:
    """Delete the rows of every protected table, those that hang on others first; spared fittings are written back."""
    # In the order in which an answer takes its locks (the follow-up, then its fitting), so that neither waits in vain.
    list(FollowUp.objects.select_for_update(of=("self",)).filter(fitting__customer=customer).order_by("pk"))
    kinds = {kind.model for kind in audit.record_kinds()}
    changes: list[Change] = []
    for item in reversed(tables_of_customers()):
        if item.model is Fitting and spared:
            Fitting.objects.bulk_update(spared, _emptied_columns())
            continue
        rows: models.QuerySet[Any] = rows_held(item, customer)
        if item.model in kinds:
            gone = list(rows)
            before = audit.snapshots(item.model, [row.pk for row in gone])
            act = action if item.model is Customer else "fittings.record.removed"
            changes.extend(Change(act, row, before[row.pk], reason, customer.store) for row in gone)
        rows.delete()
    audit.record_many(changes, actor=actor)


def _emptied_columns() -> list[str]:
    return [column.name for column in Fitting._meta.concrete_fields if column.name not in _STAYS - {"kept"}]


def retention_apply(*, at: dt.datetime | None = None, report: Callable[[Customer], None] | None = None) -> int:
    """Withdraw for everybody of whom nothing was heard for longer than `HEALTH_DATA_RETENTION_MONTHS`.

    Each in a transaction of its own, so that an interruption loses nothing and running it twice, or in two places,
    removes nobody twice.

    Returns
    -------
    int
        How many were removed.
    """
    border = (at or timezone.now()) - dt.timedelta(days=settings.HEALTH_DATA_RETENTION_MONTHS * 365.25 / 12)
    removed = 0
    for pk in list(silent_since(border).values_list("pk", flat=True)):
        with transaction.atomic():
            customer = silent_since(border).filter(pk=pk).first()
            locked = Customer.objects.select_for_update(skip_locked=True, of=("self",)).filter(pk=pk)
            customer = locked.select_related("store").first() if customer is not None else None
            if customer is None:
                continue
            _empty(customer, actor=None, action="fittings.customer.retention_ended", reason=RETENTION_OVER)
        removed += 1
        if report is not None:
            report(customer)
    return removed
