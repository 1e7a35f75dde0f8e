"""What is said on the telephone, and how follow-ups and attempts are worded in lists."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from core.models import User
from core.web import display
from fittings.models import ContactTry, Customer, FollowUp, TryKind
from fittings.presentation.fitting import fittings as presentation


@dataclass(frozen=True, slots=True)
class DueLine:
    """One follow-up that is due, with how to reach the customer and what was tried."""

    line: presentation.FollowUpLine
    phone: str
    phone_link: str
    mail: str
    tries: str
    reasoning: str


def due_line(follow_up: FollowUp, today: Any) -> DueLine:
    customer = follow_up.fitting.customer
    phone = customer.phone if customer else ""
    count = getattr(follow_up, "calls", None)
    return DueLine(
        line=presentation.follow_up_line(follow_up, today),
        phone=phone,
        phone_link=display.dialled(phone),
        mail=mail_words(customer, follow_up),
        tries=_tries_words(count or 0),
        reasoning=follow_up.recurrence_reasoning,
    )


def _tries_words(count: int) -> str:
    return "not called yet" if not count else f"not reached {count} {'time' if count == 1 else 'times'}"


def mail_words(customer: Customer | None, follow_up: FollowUp) -> str:
    """Which e-mails were sent, or why none is."""
    if customer is None or not customer.email:
        return "no e-mail address"
    if customer.mail_stopped_at is not None:
        return "wants no e-mails"
    if customer.mail_failed_at is not None:
        return "e-mail bounces"
    if not follow_up.reminders:
        return "no e-mail yet"
    return "one e-mail sent" if follow_up.reminders == 1 else f"{follow_up.reminders} e-mails sent"


def try_words(tried: ContactTry) -> str:
    who = f", {tried.by.display_name}" if tried.by else ""
    return f"{display.moment(tried.at)}: {TryKind(tried.kind).label}{who}"


@dataclass(frozen=True, slots=True)
class Script:
    """Sentences to say: before the questions, and after them."""

    greeting: str
    asking: str
    closing: str
    hurts: str


def script_of(follow_up: FollowUp, caller: User) -> Script:
    """The call, worded for this person and these shoes."""
    fitting = follow_up.fitting
    choice = follow_up.choice or fitting.choice
    shoe = f"{choice.shoe.brand.name} {choice.shoe.title}" if choice else "shoes"
    name = fitting.customer.name if fitting.customer else ""
    since: dt.datetime = fitting.at
    return Script(
        greeting=f"Hello, this is {caller.display_name} from {fitting.store.name}. Am I speaking to {name}?",
        asking=(
            f"You were with us on {display.day(since)} and chose the {shoe}. May I ask how it "
            "is going? It takes two to three minutes, and you can skip any question."
        ),
        closing="Thank you. Come by at any time when something rubs or hurts.",
        hurts=(
            "If something hurts: we are not clinicians and can’t say what it is. For pain that lasts, comes back or "
            "wakes you, please see a licensed clinician."
        ),
    )
