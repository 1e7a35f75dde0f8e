"""Signed links, each for one purpose. A link holds a number and a signature, no more, and runs out."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.conf import settings
from django.core import signing
from django.urls import reverse

from core.domain.errors import DomainError
from core.gate import row_scope
from fittings.models import Customer, Fitting

SALT = "fittings.card"
ASK_SALT = "fittings.follow-up"
STOP_SALT = "fittings.mail-stop"


@dataclass(frozen=True, slots=True)
class Opened:
    """What a customer's link opens: the fitting, with its card or for answering the follow-up alone."""

    fitting: Fitting
    shows_card: bool


def token_for(fitting: Fitting) -> str:
    """Token of the card, with the follow-up that is due above it."""
    return signing.dumps(fitting.pk, salt=SALT)


def ask_token_for(fitting: Fitting) -> str:
    """Token that answers the follow-up that is due, and shows nothing else."""
    return signing.dumps(fitting.pk, salt=ASK_SALT)


def stop_token_for(customer: Customer) -> str:
    """Token that stops letters, and shows nothing."""
    return signing.dumps(customer.pk, salt=STOP_SALT)


def _address(name: str, token: str) -> str:
    return settings.SITE_URL.rstrip("/") + reverse(name, kwargs={"token": token})


def link_for(fitting: Fitting) -> str:
    """The whole address of the card, for the customer's own keeping."""
    return _address("customer:card", token_for(fitting))


def ask_link_for(fitting: Fitting) -> str:
    """The whole address of the questions, for a letter."""
    return _address("customer:card", ask_token_for(fitting))


def stop_link_for(customer: Customer) -> str:
    """The whole address that stops letters, for a letter."""
    return _address("customer:mail-stop", stop_token_for(customer))


def _unknown() -> DomainError:
    return DomainError(
        "This link is not one of ours. Check that it was copied whole, or ask your store for a new one.",
        code="link_unknown",
        status=404,
    )


def _number_in(token: str, salt: str) -> int:
    """The number that a token was signed with. Raises a 404 for a token not made here, a 410 for one too old."""
    try:
        pk = signing.loads(token, salt=salt, max_age=dt.timedelta(days=settings.SIGNED_LINK_MAX_AGE_DAYS))
    except signing.SignatureExpired:
        raise DomainError(
            "This link has run out. Ask your store for a new one.", code="link_expired", status=410
        ) from None
    except signing.BadSignature:
        pk = None
    if not isinstance(pk, int):
        raise _unknown()
    return pk


def opened_by(token: str) -> Opened:
    """What a link of a card or of a follow-up opens.

    Raises
    ------
    DomainError
        404 for a link that was not made here, 410 for one that is too old.
    """
    try:
        return Opened(_fitting(_number_in(token, SALT)), shows_card=True)
    except DomainError as problem:
        if problem.code != "link_unknown":
            raise
    return Opened(_fitting(_number_in(token, ASK_SALT)), shows_card=False)


def _fitting(pk: int) -> Fitting:
    """Read the fitting whatever is in scope: the signature has said that its holder may see it."""
    with row_scope.everything():
        fitting = (
            Fitting.objects.kept()
            .select_related("store", "fitter", "customer", "rules", "current_shoe__brand")
            .select_related("choice__shoe__brand", "choice__correction")
            .filter(pk=pk)
            .first()
        )
    if fitting is None:
        raise _unknown()
    return fitting


def customer_of(token: str) -> Customer:
    """The customer that a link for stopping letters was made for.

    Raises
    ------
    DomainError
        404 for a link that was not made here, 410 for one that is too old.
    """
    pk = _number_in(token, STOP_SALT)
    with row_scope.everything():
        customer = Customer.objects.select_related("store").filter(pk=pk).first()
    if customer is None:
        raise _unknown()
    return customer
