"""Signed links: a customer's own way to the card of a fitting. A link holds a number and a signature, no more."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.core import signing
from django.urls import reverse

from core import row_scope
from core.errors import DomainError
from fittings.models import Fitting

SALT = "fittings.card"


def token_for(fitting: Fitting) -> str:
    return signing.dumps(fitting.pk, salt=SALT)


def link_for(fitting: Fitting) -> str:
    """The whole address, for an e-mail or a printed card."""
    return settings.SITE_URL.rstrip("/") + reverse("customer:card", kwargs={"token": token_for(fitting)})


def fitting_of(token: str) -> Fitting:
    """The fitting that a link was made for.

    Raises
    ------
    DomainError
        404 for a link that was not made here, 410 for one that is too old.
    """
    try:
        pk = signing.loads(token, salt=SALT, max_age=dt.timedelta(days=settings.SIGNED_LINK_MAX_AGE_DAYS))
    except signing.SignatureExpired:
        raise DomainError(
            "This link has run out. Ask your store for a new one.", code="link_expired", status=410
        ) from None
    except signing.BadSignature:
        pk = None
    fitting = _read(pk) if isinstance(pk, int) else None
    if fitting is None:
        raise DomainError(
            "This link is not one of ours. Check that it was copied whole, or ask your store for a new one.",
            code="link_unknown",
            status=404,
        )
    return fitting


def _read(pk: int) -> Fitting | None:
    """Read the fitting whatever is in scope: the signature has said that its holder may see it."""
    with row_scope.everything():
        return (
            Fitting.objects.kept()
            .select_related("store", "customer", "rules", "current_shoe__brand", "choice__shoe__brand")
            .filter(pk=pk)
            .first()
        )
