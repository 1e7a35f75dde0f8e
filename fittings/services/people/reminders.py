"""E-mails that remind of a follow-up: at most two, never to somebody who asked for peace or whose e-mail bounces."""

from __future__ import annotations

import datetime as dt
import smtplib
from collections.abc import Callable

from django.core.mail import EmailMessage
from django.db import transaction
from django.utils import timezone

from fittings.domain.people.answering_time import EFFORT
from fittings.models import Customer, Fitting, FollowUp, TryKind
from fittings.services.people.contact import bounce_note, try_note
from fittings.services.people.links import ask_link_for, stop_link_for

REMIND_WITHIN_DAYS = 28
"""A reminder goes out up to this many days after a follow-up was due; later the next one is near."""

REMIND_AGAIN_AFTER_DAYS = 7
"""The second and last e-mail goes out so long after the first."""

Report = Callable[[FollowUp], None]


def follow_up_reminders_send(
    *,
    on: dt.date | None = None,
    report: Report | None = None,
    refused: Report | None = None,
    put_off: Report | None = None,
) -> int:
    """E-mail the customers whose follow-up is due and who gave an address; each follow-up at most twice.

    Each one is sent in a transaction of its own under a lock that others pass by, so that running this twice, or in
    two places at once, reminds nobody twice. An address that the mail server refuses for good is noted as failing and
    passed by. An address that it refuses for the moment, and an e-mail that it refuses once it has read it, stay unsent
    and are passed by as well: one must not keep the others from being sent. When the server itself fails, that one
    stays unsent and the error is raised.

    Parameters
    ----------
    on : the day; today where left out
    report : called with each follow-up sent
    refused : called with each follow-up whose address was refused for good
    put_off : called with each follow-up that was passed by and stays due

    Returns
    -------
    int
        How many were sent.
    """
    today = on or timezone.localdate()
    sent, passed = 0, 0
    while True:
        with transaction.atomic():
            follow_up = _next(today, passed)
            if follow_up is None:
                return sent
            passed = follow_up.pk
            outcome = _remind(follow_up)
        sent += outcome is TryKind.MAILED
        call = {TryKind.MAILED: report, TryKind.REFUSED: refused}[outcome] if outcome else put_off
        if call is not None:
            call(follow_up)


def _next(today: dt.date, after_pk: int) -> FollowUp | None:
    """Lock and return the next follow-up to remind of. Those of people who can't or won't be written to are not."""
    return (
        FollowUp.objects.select_for_update(skip_locked=True, of=("self",))
        .select_related("fitting__store", "fitting__customer")
        .due(today)
        .to_remind(timezone.now() - dt.timedelta(days=REMIND_AGAIN_AFTER_DAYS))
        .filter(
            due_on__gt=today - dt.timedelta(days=REMIND_WITHIN_DAYS),
            fitting__in=Fitting.objects.without_training(),
            fitting__customer__in=Customer.objects.writable(),
            fitting__customer__consents__isnull=False,
            pk__gt=after_pk,
        )
        .order_by("pk")
        .first()
    )


def _remind(follow_up: FollowUp) -> TryKind | None:
    """Send the e-mail; say whether it went out, was refused for good, or neither."""
    try:
        email_of(follow_up).send()
    except smtplib.SMTPRecipientsRefused as problem:
        codes = [code for code, _ in problem.recipients.values()]
        if not codes or not all(500 <= code < 600 for code in codes):
            return None
        bounce_note(actor=None, follow_up=follow_up, kind=TryKind.REFUSED)
        return TryKind.REFUSED
    except smtplib.SMTPDataError:
        return None
    follow_up.sent_at, follow_up.reminders = timezone.now(), follow_up.reminders + 1
    follow_up.save(update_fields=["sent_at", "reminders"])
    try_note(follow_up, TryKind.MAILED, actor=None)
    return TryKind.MAILED


def email_of(follow_up: FollowUp) -> EmailMessage:
    """The e-mail: who asks and where to answer or to stop it, and nothing about the person."""
    fitting = follow_up.fitting
    customer = fitting.customer
    store = fitting.store.name
    stop = stop_link_for(customer) if customer else ""
    again = "We asked you a few days ago; this is the last e-mail about it. " if follow_up.reminders else ""
    return EmailMessage(
        subject=f"How are your shoes? A short question from {store}",
        body=(
            f"Some weeks ago you were fitted for shoes at {store}. How is it going?\n\n"
            f"{again}{EFFORT}\n{ask_link_for(fitting)}\n\n"
            "The link is for you only and works for a limited time.\n"
            "This is not medical advice. For pain that lasts, comes back or wakes you, see a licensed clinician.\n\n"
            f"Stop these e-mails:\n{stop}\n"
        ),
        to=[customer.email] if customer else [],
        # RFC 2369 and RFC 8058: mail programs show their own way to stop.
        headers={"List-Unsubscribe": f"<{stop}>", "List-Unsubscribe-Post": "List-Unsubscribe=One-Click"},
    )
