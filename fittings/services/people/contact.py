"""Reaching a customer: tries that failed, letters that came back, and being left in peace."""

from __future__ import annotations

import uuid

from django.db import IntegrityError, transaction
from django.utils import timezone

from core import audit
from core.domain.errors import DomainError
from core.models import User
from fittings.domain.fitting.intake import CustomerIntake
from fittings.domain.refusals import submission_used
from fittings.models import ContactTry, Customer, FollowUp, TryKind
from fittings.services.fitting.checks import check_person, check_record, require

ANSWER = "fittings.follow_up:answer"


def not_reached_note(*, actor: User, follow_up: FollowUp, submission: uuid.UUID | None = None) -> ContactTry:
    """Note that nobody was reached by telephone. The same submission again notes nothing.

    Raises
    ------
    DomainError
        404 for another store, 409 where the follow-up is answered.
    """
    require(actor, ANSWER, follow_up.fitting.store)
    if follow_up.answered_at is not None:
        raise DomainError("This follow-up was already answered.", code="already_answered", status=409)
    try:
        with transaction.atomic():
            return _earlier(follow_up, submission) or try_note(
                follow_up, TryKind.NOT_REACHED, actor=actor, submission=submission
            )
    except IntegrityError:
        # Two of the same submission at the same moment: the other one won.
        earlier = _earlier(follow_up, submission)
        if earlier is None:
            raise
        return earlier


def _earlier(follow_up: FollowUp, submission: uuid.UUID | None) -> ContactTry | None:
    if submission is None:
        return None
    earlier = ContactTry.objects.filter(submission=submission).first()
    if earlier is not None and earlier.follow_up_id != follow_up.pk:
        raise submission_used()
    return earlier


def try_note(
    follow_up: FollowUp, kind: TryKind, *, actor: User | None, submission: uuid.UUID | None = None
) -> ContactTry:
    """Add a try to reach the customer of a follow-up."""
    tried = ContactTry(follow_up=follow_up, kind=kind, at=timezone.now(), by=actor, submission=submission)
    check_record(tried)
    tried.save()
    audit.record(
        actor=actor,
        action="fittings.contact_try.noted",
        subject=tried,
        reason=tried.get_kind_display(),
        store=follow_up.fitting.store,
    )
    return tried


@transaction.atomic
def bounce_note(*, actor: User | None, follow_up: FollowUp, kind: TryKind = TryKind.BOUNCED) -> None:
    """Note that an e-mail came back or was refused: no more are written to this address. Noting it twice is once.

    Raises
    ------
    DomainError
        404 for another store, 409 where there is no address.
    """
    if actor is not None:
        require(actor, ANSWER, follow_up.fitting.store)
    customer = _locked(follow_up)
    if not customer.email:
        raise DomainError("This customer has no e-mail address on record.", code="no_address", status=409)
    if customer.mail_failed_at is None:
        customer.mail_failed_at = timezone.now()
        customer.save(update_fields=["mail_failed_at"])
        try_note(follow_up, kind, actor=actor)


def _locked(follow_up: FollowUp) -> Customer:
    customer_id = follow_up.fitting.customer_id
    if customer_id is None:
        raise DomainError("No data is stored about this customer.", code="not_kept", status=409)
    return Customer.objects.select_for_update(of=("self",)).select_related("store").get(pk=customer_id)


def mail_stop(*, actor: User | None, customer: Customer) -> None:
    """Note that the customer wants no more e-mail: said to the staff, or through the link of an e-mail (no actor)."""
    _set_mail(actor, customer, stopped=True)


def mail_allow(*, actor: User, customer: Customer) -> None:
    """Note that the customer may be written to again: only where they say so to the staff."""
    _set_mail(actor, customer, stopped=False)


@transaction.atomic
def _set_mail(actor: User | None, customer: Customer, *, stopped: bool) -> None:
    locked = Customer.objects.select_for_update(of=("self",)).select_related("store").get(pk=customer.pk)
    if actor is not None:
        require(actor, ANSWER, locked.store)
    if (locked.mail_stopped_at is not None) == stopped:
        return
    before = audit.snapshot(locked)
    locked.mail_stopped_at = timezone.now() if stopped else None
    locked.save(update_fields=["mail_stopped_at"])
    action = "fittings.customer.mail_stopped" if stopped else "fittings.customer.mail_allowed"
    audit.record(actor=actor, action=action, subject=locked, before=before, store=locked.store)


@transaction.atomic
def contact_correct(*, actor: User, customer: Customer, email: str, phone: str, name: str | None = None) -> Customer:
    """Write down another name, e-mail address or telephone number. A new address is written to again.

    Raises
    ------
    DomainError
        400 naming the bad field, 404 for another store.
    """
    locked = Customer.objects.select_for_update(of=("self",)).select_related("store").get(pk=customer.pk)
    require(actor, ANSWER, locked.store)
    email, phone = email.strip(), phone.strip()
    name = locked.name if name is None else name.strip()
    check_person(CustomerIntake(name=name, email=email, phone=phone, consent=True))
    if (locked.name, locked.email, locked.phone) == (name, email, phone):
        return locked
    before = audit.snapshot(locked)
    if locked.email.lower() != email.lower():
        locked.mail_failed_at = None
    locked.name, locked.email, locked.phone = name, email, phone
    check_record(locked)
    locked.save()
    audit.record(actor=actor, action="fittings.customer.corrected", subject=locked, before=before, store=locked.store)
    return locked
