"""Signed links, each for one purpose, that run out. A link has a number, the nonce of its row, and a signature.

The nonce is random: where a restored backup gives a number to somebody else, the links of the number open nothing.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.conf import settings
from django.core import signing
from django.db import transaction
from django.urls import reverse
from django.utils.crypto import constant_time_compare

from core import audit
from core.audit import Change
from core.domain.errors import DomainError
from core.gate import row_scope
from core.models import Store, User
from fittings.models import Customer, Fitting
from fittings.models.people import new_nonce
from fittings.services.fitting.checks import require

SALT = "fittings.card"
ASK_SALT = "fittings.follow-up"
STOP_SALT = "fittings.mail-stop"


@dataclass(frozen=True, slots=True)
class Opened:
    """What a customer's link opens: the fitting, with its card or for answering the follow-up alone."""

    fitting: Fitting
    shows_card: bool


@dataclass(frozen=True, slots=True)
class _Named:
    """The row that a link was made for."""

    pk: int
    nonce: str

    def check(self, row: Fitting | Customer, way_on: str = "Ask your store for a new one.") -> None:
        """Refuse a row whose nonce was replaced, or that only has the same number."""
        if not constant_time_compare(row.link_nonce, self.nonce):
            raise DomainError(f"This link no longer works. {way_on}", code="link_revoked", status=410)


def _content(row: Fitting | Customer) -> list[object]:
    return [row.pk, row.link_nonce]


@transaction.atomic
def links_revoke(*, actor: User, fitting: Fitting) -> Fitting:
    """End every link to a fitting that was sent or printed so far, and those that stop e-mails to its customer.

    The card has a new link from then on, and the next e-mail has new ones of both kinds.

    Raises
    ------
    DomainError
        404 for another store, or where the customer was removed in the meantime.
    """
    require(actor, "fittings.follow_up:answer", fitting.store)
    people = Customer.objects.select_for_update(of=("self",))
    customer = people.filter(pk=fitting.customer_id).first() if fitting.customer_id else None
    held = Fitting.objects.select_for_update(of=("self",)).select_related("store")
    locked = held.filter(pk=fitting.pk, customer=customer).first()
    if locked is None:
        message = "This customer has been removed or merged in the meantime."
        raise DomainError(message, code="not_found", status=404)
    changes = [_renewed(locked, "fittings.link.revoked", locked.store)]
    if customer is not None:
        changes.append(_renewed(customer, "fittings.customer.links_revoked", locked.store))
    audit.record_many(changes, actor=actor)
    return locked


def _renewed(row: Fitting | Customer, action: str, store: Store) -> Change:
    """Give a row another nonce, with which no link made before agrees."""
    before = audit.snapshot(row)
    row.link_nonce = new_nonce()
    row.save(update_fields=["link_nonce"])
    return Change(action, row, before, store=store)


def token_for(fitting: Fitting) -> str:
    """Token of the card, with the follow-up that is due above it."""
    return signing.dumps(_content(fitting), salt=SALT)


def ask_token_for(fitting: Fitting) -> str:
    """Token that answers the follow-up that is due, and shows nothing else."""
    return signing.dumps(_content(fitting), salt=ASK_SALT)


def stop_token_for(customer: Customer) -> str:
    """Token that stops e-mails, and shows nothing."""
    return signing.dumps(_content(customer), salt=STOP_SALT)


def _address(name: str, token: str) -> str:
    return settings.SITE_URL.rstrip("/") + reverse(name, kwargs={"token": token})


def link_for(fitting: Fitting) -> str:
    """The whole address of the card, for the customer."""
    return _address("customer:card", token_for(fitting))


def ask_link_for(fitting: Fitting) -> str:
    """The whole address of the questions, for an e-mail."""
    return _address("customer:card", ask_token_for(fitting))


def stop_link_for(customer: Customer) -> str:
    """The whole address that stops e-mails, for an e-mail."""
    return _address("customer:mail-stop", stop_token_for(customer))


def _unknown() -> DomainError:
    return DomainError(
        "This link is not one of ours. Check that it was copied whole, or ask your store for a new one.",
        code="link_unknown",
        status=404,
    )


def _named_in(token: str, salt: str) -> _Named:
    """The row that a token was signed for. Raises a 404 for a token not made here, a 410 for one too old."""
    try:
        content = signing.loads(token, salt=salt, max_age=dt.timedelta(days=settings.SIGNED_LINK_MAX_AGE_DAYS))
    except signing.SignatureExpired:
        raise DomainError(
            "This link has run out. Ask your store for a new one.", code="link_expired", status=410
        ) from None
    except signing.BadSignature:
        content = None
    match content:
        case [int(pk), str(nonce)]:
            return _Named(pk, nonce)
        case int(pk):
            # A link from before there were nonces: it opens a row that has none.
            return _Named(pk, "")
    raise _unknown()


def opened_by(token: str) -> Opened:
    """What a link of a card or of a follow-up opens.

    Raises
    ------
    DomainError
        404 for a link that was not made here, 410 for one that is too old or was revoked.
    """
    try:
        return Opened(_fitting(_named_in(token, SALT)), shows_card=True)
    except DomainError as problem:
        if problem.code != "link_unknown":
            raise
    return Opened(_fitting(_named_in(token, ASK_SALT)), shows_card=False)


def _fitting(named: _Named) -> Fitting:
    """Read the fitting whatever is in scope: the signature has said that its holder may see it."""
    with row_scope.everything():
        fitting = (
            Fitting.objects.with_consent()
            .select_related("store", "fitter", "customer", "rules", "current_shoe__brand")
            .select_related("choice__shoe__brand", "choice__correction")
            .filter(pk=named.pk)
            .first()
        )
    if fitting is None:
        raise _unknown()
    named.check(fitting)
    return fitting


def customer_of(token: str) -> Customer:
    """The customer that a link for stopping e-mails was made for.

    Raises
    ------
    DomainError
        404 for a link that was not made here, 410 for one that is too old or was revoked.
    """
    named = _named_in(token, STOP_SALT)
    with row_scope.everything():
        customer = Customer.objects.select_related("store").filter(pk=named.pk).first()
    if customer is None:
        raise _unknown()
    named.check(customer, "Use the one in the newest e-mail, or ask your store to stop its e-mails.")
    return customer
