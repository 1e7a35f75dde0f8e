"""The customer of an unfinished fitting: found among those of the store, or made."""

from __future__ import annotations

import datetime as dt

from core import audit
from core.audit import Change
from core.domain.errors import DomainError
from core.models import Store, User
from fittings.domain.fitting.intake import CustomerIntake
from fittings.models import Customer, Fitting
from fittings.selectors.people.people import guardian_of
from fittings.services.fitting.checks import check_guardian, check_person, check_record
from fittings.services.fitting.fitting import consent_note, customer_find_or_make


def person_content(customer: Customer) -> tuple[str, str, str]:
    return customer.name, customer.email, customer.phone


def names_new_guardian(customer: Customer, person: CustomerIntake) -> bool:
    """Whether somebody is named who agrees for the customer and is not on record yet; refuses where nobody is."""
    check_guardian(person)
    return person.guardian.strip() not in ("", guardian_of(customer))


def person_find_or_make(
    store: Store,
    person: CustomerIntake,
    known: int | None,
    at: dt.datetime,
    changes: list[Change],
    *,
    former: Customer | None = None,
) -> tuple[Customer, bool]:
    """Return the customer, with consent recorded, and whether the row is of this fitting alone.

    Parameters
    ----------
    known : key of a customer of the store; else name and address say who it is
    former : the customer that was made for this fitting before: a new name or address corrects it
    changes : what happened is added for the trail

    Raises
    ------
    DomainError
        400 naming every bad field; a customer of another store is refused like one that does not exist.
    """
    if known is not None:
        customer = Customer.objects.select_related("store").filter(pk=known, store=store).first()
        if customer is None:
            message = "This customer is not on record at your store. Search for the name again."
            raise DomainError(message, fields={"customer.known": [message]})
        check_guardian(person)
        consent_note(customer, at, changes, guardian=person.guardian)
        return customer, former is not None and former.pk == customer.pk
    check_person(person)
    if former is not None:
        consent_note(former, at, changes, guardian=person.guardian)
        return _correct(former, person, changes), True
    customer = customer_find_or_make(person, store, at, changes)
    return customer, any(change.action == "fittings.customer.created" for change in changes)


def _correct(customer: Customer, person: CustomerIntake, changes: list[Change]) -> Customer:
    before = audit.snapshot(customer)
    customer.name, customer.email, customer.phone = person.name.strip(), person.email.strip(), person.phone.strip()
    check_record(customer)
    customer.save()
    changes.append(Change("fittings.customer.corrected", customer, before, store=customer.store))
    return customer


def person_discard(customer: Customer, *, actor: User | None) -> None:
    """Remove a customer who was made for a fitting that is no more, unless something else is kept of them."""
    if Fitting.objects.filter(customer=customer).exists() or customer.drafts.exists():
        return
    store, pk = customer.store, customer.pk
    changes: list[Change] = []
    for consent in list(customer.consents.all()):
        before, consent_pk = audit.snapshot(consent), consent.pk
        consent.delete()
        consent.pk = consent_pk
        changes.append(Change("fittings.consent.discarded", consent, before, store=store))
    before = audit.snapshot(customer)
    customer.delete()
    customer.pk = pk
    changes.append(Change("fittings.customer.discarded", customer, before, store=store))
    audit.record_many(changes, actor=actor)
