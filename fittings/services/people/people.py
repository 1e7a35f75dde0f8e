"""A customer who is of another store, or who was recorded twice."""

from __future__ import annotations

from typing import Any

from django.db import models, transaction

from core import audit
from core.audit import Change
from core.domain.errors import DomainError
from core.models import Store, User
from fittings.models import Consent, Course, Customer, Draft, Fitting
from fittings.selectors.people.personal_data import tables_of_customers
from fittings.services.fitting.checks import require

WRITE = "fittings.customer:write"


def _locked(actor: User, *customers: Customer) -> dict[int, Customer]:
    """Lock the customers and all their fittings in one order, as the courses do; refuse those of other stores."""
    keys = [customer.pk for customer in customers]
    rows = Customer.objects.select_for_update(of=("self",)).select_related("store").filter(pk__in=keys).order_by("pk")
    found = {row.pk: row for row in rows}
    if len(found) < len(set(keys)):
        raise DomainError("This customer has been removed in the meantime.", code="not_found", status=404)
    for row in found.values():
        require(actor, WRITE, row.store)
    list(Fitting.objects.select_for_update(of=("self",)).filter(customer__in=keys).order_by("pk"))
    return found


@transaction.atomic
def customer_move(*, actor: User, customer: Customer, store: Store) -> Customer:
    """Correct the store of a customer: the person with all fittings was recorded in the wrong one.

    Raises
    ------
    DomainError
        404 where the actor does not work in both stores, 409 between a training store and another one.
    """
    locked = _locked(actor, customer)[customer.pk]
    require(actor, WRITE, store)
    if locked.store_id == store.pk:
        return locked
    if locked.store.is_training != store.is_training:
        message = "Invented people stay in the training store, and real people are never moved there."
        raise DomainError(message, code="training", status=409)
    changes = [_set(locked, "fittings.customer.moved", store, store=store)]
    for row in [*Fitting.objects.filter(customer=locked), *Draft.objects.filter(customer=locked)]:
        changes.append(_set(row, "fittings.record.moved", store, store=store))
    audit.record_many(changes, actor=actor)
    return locked


def _set(row: models.Model, action: str, at: Store, **values: Any) -> Change:
    before = audit.snapshot(row)
    for name, value in values.items():
        setattr(row, name, value)
    row.save(update_fields=list(values))
    return Change(action, row, before, store=at)


@transaction.atomic
def customers_merge(*, actor: User, customer: Customer, duplicate: Customer) -> Customer:
    """Merge a record into another one of the same person, of the same store.

    Fittings, begun and finished, go to the record that stays, and the outcomes are worked out again as of one person.
    What is missing of the contact details is taken over. Of the consents the stricter holds: a wording that only one
    record agreed to is asked about again, and who did not want e-mails under one of them gets none.

    Raises
    ------
    DomainError
        404 for another store, 409 for the same record twice or two stores.
    """
    if customer.pk == duplicate.pk:
        raise DomainError("Choose another record: this is the same one.", code="same_customer", status=409)
    found = _locked(actor, customer, duplicate)
    stays, goes = found[customer.pk], found[duplicate.pk]
    if stays.store_id != goes.store_id:
        message = "They are recorded in two stores. Correct the store of one of them first."
        raise DomainError(message, code="two_stores", status=409)
    changes = _move_rows(stays, goes)
    changes += _stricter_consents(stays, goes)
    before = audit.snapshots(Customer, [stays.pk, goes.pk])
    _take_details(stays, goes)
    pk = goes.pk
    goes.delete()
    goes.pk = pk
    changes.append(Change("fittings.customer.merged", goes, before[pk], store=stays.store))
    changes.append(Change("fittings.customer.took_over", stays, before[stays.pk], store=stays.store))
    audit.record_many(changes, actor=actor)
    return stays


def _move_rows(stays: Customer, goes: Customer) -> list[Change]:
    """Give every row that names the customer to the one that stays; consents and courses have rules of their own."""
    kinds = {kind.model for kind in audit.record_kinds()}
    changes: list[Change] = []
    for item in tables_of_customers():
        if item.model in (Consent, Course) or "customer" not in {f.name for f in item.model._meta.concrete_fields}:
            continue
        rows = list(item.model._base_manager.filter(customer=goes).order_by("pk"))
        if item.model in kinds:
            # A discarded draft must not take the customer along who stays.
            more = {"made_customer": False} if item.model is Draft else {}
            changes += [_set(row, "fittings.record.moved", stays.store, customer=stays, **more) for row in rows]
        else:
            item.model._base_manager.filter(customer=goes).update(customer=stays)
    return changes


def _stricter_consents(stays: Customer, goes: Customer) -> list[Change]:
    """Keep the wordings that both records agreed to, with the later day; without one, the oldest of all."""
    consents = list(Consent.objects.filter(customer__in=(stays, goes)).order_by("given_at", "pk"))
    held = {pk: {item.text_version for item in consents if item.customer_id == pk} for pk in (stays.pk, goes.pk)}
    both = held[stays.pk] & held[goes.pk]
    # In the order of their days, so that the last of a wording is the later one.
    kept = {item.text_version: item for item in consents if item.text_version in both}
    if not kept and consents:
        kept = {consents[0].text_version: consents[0]}
    changes = []
    for consent in consents:
        if consent is kept.get(consent.text_version):
            continue
        before, pk = audit.snapshot(consent), consent.pk
        consent.delete()
        consent.pk = pk
        changes.append(Change("fittings.consent.discarded", consent, before, store=stays.store))
    for consent in kept.values():
        if consent.customer_id != stays.pk:
            changes.append(_set(consent, "fittings.record.moved", stays.store, customer=stays))
    return changes


def _take_details(stays: Customer, goes: Customer) -> None:
    if not stays.email:
        stays.email, stays.mail_failed_at = goes.email, goes.mail_failed_at
    stays.phone = stays.phone or goes.phone
    stopped = [moment for moment in (stays.mail_stopped_at, goes.mail_stopped_at) if moment is not None]
    stays.mail_stopped_at = min(stopped, default=None)
    stays.created_at = min(stays.created_at, goes.created_at)
    stays.save()
