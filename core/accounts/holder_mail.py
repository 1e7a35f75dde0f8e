"""E-mails to the owner of an account about changes to it: whoever takes an account over cannot do so unnoticed.

Plain text without passwords, codes or links that open anything. They leave after the change is committed; a mail server
that is away or refuses an address changes nothing of what was done.
"""

from __future__ import annotations

import logging
import threading
from functools import partial

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.utils import timezone

from core.gate.context import current_origin
from core.models import SecurityEvent, SecurityKind, User

logger = logging.getLogger(__name__)

# What the owner of an account must know of; the rest is in the security log alone.
SENTENCES = {
    SecurityKind.LOCKED: "Wrong passwords or codes were entered so often that sign-in is locked for a while.",
    SecurityKind.RECOVERY_CODE: "A recovery code was used to sign in.",
    SecurityKind.PASSWORD_CHANGED: "The password was changed.",
    SecurityKind.PASSWORD_RESET: "A temporary password was set. The old password and all API tokens stopped working.",
    SecurityKind.LINK_ISSUED: "A single-use link was created to choose a new password. The old password and all API "
    "tokens stopped working.",
    SecurityKind.FACTOR_ADDED: "A second factor was set up.",
    SecurityKind.FACTOR_REMOVED: "The second factor was removed.",
    SecurityKind.FACTOR_LIFTED: "Head office removed the second factor. All API tokens stopped working.",
    SecurityKind.CODES_RENEWED: "New recovery codes were created. The old ones stopped working.",
    SecurityKind.SWITCHED_OFF: "The account was switched off.",
    SecurityKind.SWITCHED_ON: "The account was switched on again.",
    SecurityKind.EMAIL_CHANGED: "The e-mail address of the account was changed.",
    SecurityKind.ROLE_GIVEN: "The account was given a role: {details}.",
    SecurityKind.ROLE_WITHDRAWN: "The account lost a role: {details}.",
    SecurityKind.TOKEN_ISSUED: "An API token was created: {details}.",
    SecurityKind.TOKEN_REVOKED: "API tokens were revoked: {details}.",
}

BODY = """{sentence}

Account: {account}
When: {when}
By: {by}

If you expected this, there is nothing to do. If you did not, inform head office at once, sign in at {site} and change
your password.

You get this message because your address is on record with the account.
"""


def inform(event: SecurityEvent, user: User, *, also_to: str = "") -> None:
    """Send the owner of an account an e-mail about an event, after the transaction is committed."""
    sentence = SENTENCES.get(SecurityKind(event.kind))
    addresses = list(dict.fromkeys(address for address in (user.email, also_to) if address))
    if sentence is None or not addresses:
        return
    body = BODY.format(
        sentence=sentence.format(details=event.details),
        account=user.username,
        when=f"{timezone.localtime(event.at):%Y-%m-%d %H:%M} {settings.TIME_ZONE}",
        by=_who(event, user),
        site=settings.SITE_URL,
    )
    # One message an address: neither sees the other.
    mails = [EmailMessage("A change to your account", body, to=[address]) for address in addresses]
    transaction.on_commit(partial(_send_from, current_origin().kind, mails), robust=True)


def _who(event: SecurityEvent, user: User) -> str:
    if event.kind == SecurityKind.LOCKED:
        return "somebody who is not signed in"
    if event.actor is None:
        return "a command on the server"
    return "you" if event.actor.pk == user.pk else event.actor.username


def _send_from(kind: str, mails: list[EmailMessage]) -> None:
    """Send beside the request: how long that takes would show a stranger that a locked account exists.

    A command ends soon after, and its threads with it, so that it waits.
    """
    if kind == "command":
        send(mails)
    else:
        threading.Thread(target=send, args=[mails], daemon=True, name="holder-mail").start()


def send(mails: list[EmailMessage]) -> None:
    """Send e-mails; what the mail server refuses is a line in the log."""
    for mail in mails:
        try:
            mail.send()
        except (OSError, ValueError) as problem:
            # Its text may hold the address.
            logger.warning("An e-mail about an account was not sent (%s).", type(problem).__name__)
