"""Fittings that visitors ask for: received from the public page, closed by the store, emptied after their day."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac

from core import audit
from core.audit import Change
from core.database.validation import check
from core.domain.errors import DomainError, field_error
from core.gate import row_scope
from core.gate.context import without_address
from core.models import Store, User
from fittings.domain.people.consent import REQUEST_CONSENT_VERSION
from fittings.models import FittingRequest, RequestState
from fittings.services.fitting.checks import PHONE, require

DAYS_AHEAD_MOST = 60
A_DAY_AND_ADDRESS = 3
OPEN_A_STORE = 200
DIGITS_LEAST = 5
"""Of a telephone number."""


@dataclass(frozen=True, slots=True)
class RequestedFitting:
    """What a visitor said: a name, a way to reach them, a day, and that it may be saved."""

    name: str
    reach: str
    wish_day: dt.date
    consent: bool


def fitting_request_make(*, store: Store, asked: RequestedFitting, address: str) -> FittingRequest:
    """Save that somebody asks for a fitting. Nobody is signed in: the trail has neither who asks nor from where.

    Parameters
    ----------
    store : where they want to be fitted
    asked : what was said
    address : of the reader's connection; it is saved as a hash that changes every day, to count requests

    Raises
    ------
    DomainError
        400 for a day out of range, a missing consent or a reach that leads nowhere; 429 where the address or the store
        has too many requests.
    """
    _check(asked)
    with row_scope.everything(), without_address(), transaction.atomic():
        # Requests at one store wait for each other, so that the limit holds.
        held = Store.objects.select_for_update(no_key=True).get(pk=store.pk)
        if held.is_training:
            raise DomainError("This store does not exist.", code="not_found", status=404)
        source = _source(address)
        _check_room(store, source)
        made = FittingRequest(
            store=store,
            name=asked.name.strip(),
            reach=asked.reach.strip(),
            wish_day=asked.wish_day,
            consent_version=REQUEST_CONSENT_VERSION,
            asked_at=timezone.now(),
            asked_from=source,
        )
        check(made)
        made.save()
        audit.record(actor=None, action="fittings.request.asked", subject=made, store=store)
    return made


def _check(asked: RequestedFitting) -> None:
    if not asked.consent:
        raise field_error("consent", "Tick this if the store may save your name.", code="no_consent")
    if problem := reach_problem(asked.reach):
        raise field_error("reach", problem, code="bad_reach")
    today = timezone.localdate()
    if not today <= asked.wish_day <= today + dt.timedelta(days=DAYS_AHEAD_MOST):
        raise field_error("wish_day", f"Choose a day from today to {DAYS_AHEAD_MOST} days ahead.", code="bad_day")


def reach_problem(reach: str) -> str:
    """Say why nobody can be reached by this, which is an e-mail address or a telephone number; "" where they can."""
    text = reach.strip()
    if "@" in text:
        return "" if _is_email(text) else "This e-mail address is not complete."
    if PHONE.fullmatch(text) and len(re.sub(r"\D", "", text)) >= DIGITS_LEAST:
        return ""
    return "Write an e-mail address, or a telephone number in digits."


def _is_email(text: str) -> bool:
    try:
        validate_email(text)
    except ValidationError:
        return False
    return True


def _source(address: str) -> str:
    """A hash of an address that differs from day to day; the address can't be read from it."""
    value = f"{timezone.localdate():%Y-%m-%d}|{address}"
    return salted_hmac("fittings.requests", value, secret=settings.SECRET_KEY, algorithm="sha256").hexdigest()[:16]


def _check_room(store: Store, source: str) -> None:
    if FittingRequest.objects.filter(asked_from=source).count() >= A_DAY_AND_ADDRESS:
        words = f"{A_DAY_AND_ADDRESS} fittings were asked for from your connection today. Call the store instead."
        raise DomainError(words, code="asked_too_often", status=429)
    if FittingRequest.objects.waiting().filter(store=store).count() >= OPEN_A_STORE:
        words = f"{store.name} has more requests than it can answer. Call the store instead."
        raise DomainError(words, code="store_full", status=429)


@transaction.atomic
def fitting_request_close(*, actor: User, request: FittingRequest, outcome: RequestState) -> FittingRequest:
    """End a request, arranged or closed; the name and the way to reach the person are deleted with it."""
    rows = FittingRequest.objects.select_for_update(of=("self",)).select_related("store")
    held = rows.filter(pk=request.pk).first()
    if held is None:
        raise DomainError("This request does not exist.", code="not_found", status=404)
    require(actor, "fittings.request:close", held.store)
    if held.state != RequestState.OPEN:
        raise DomainError("This request was already closed.", code="request_closed", status=409)
    before = audit.snapshot(held)
    _end(held, outcome, actor)
    check(held)
    held.save()
    action = f"fittings.request.{outcome.value}"
    audit.record(actor=actor, action=action, subject=held, before=before, store=held.store)
    return held


def _end(held: FittingRequest, outcome: RequestState, actor: User | None) -> None:
    held.state, held.closed_at, held.closed_by = outcome, timezone.now(), actor
    held.name, held.reach = "", ""


@transaction.atomic
def fitting_requests_expire(*, today: dt.date | None = None) -> int:
    """Empty requests whose day is over for long enough, and the hashes of earlier days; returns how many requests.

    Rows that somebody closes at this moment are left to them.
    """
    day = today or timezone.localdate()
    FittingRequest.objects.filter(asked_at__date__lt=day).exclude(asked_from="").update(asked_from="")
    over = FittingRequest.objects.over(day).select_for_update(of=("self",), skip_locked=True)
    held = list(over.select_related("store"))
    before = audit.snapshots(FittingRequest, [request.pk for request in held])
    for request in held:
        _end(request, RequestState.EXPIRED, None)
    FittingRequest.objects.bulk_update(held, ["state", "closed_at", "closed_by", "name", "reach"])
    audit.record_many(
        [Change("fittings.request.expired", request, before[request.pk], "", request.store) for request in held],
        actor=None,
    )
    return len(held)
