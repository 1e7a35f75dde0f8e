"""Reads of accounts: the list, one account with its roles, tokens and latest changes, and the staff of a store."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Now
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django_otp.plugins.otp_static.models import StaticToken
from knox.models import AuthToken

from core.accounts.provisioning import TOKEN_MOST_DAYS
from core.gate.access import Role, allowed, store_ids_where
from core.models import (
    AccountRequest,
    AuditEntry,
    Membership,
    SealedDevice,
    SecurityEvent,
    Store,
    User,
)

CHANGES_SHOWN = 20
STATES = {"on": "switched on", "off": "switched off", "no-role": "without a role"}


@dataclass(frozen=True, slots=True)
class AccountFilter:
    """The filters of the list of accounts; an empty value does not filter."""

    q: str = ""
    role: str = ""
    store: Store | None = None
    state: str = ""


@dataclass(frozen=True, slots=True)
class EventFilter:
    """The filters of the security log; an empty value does not filter. `kinds` of events, days both inclusive."""

    kinds: tuple[str, ...] = ()
    account: str = ""
    since: dt.date | None = None
    until: dt.date | None = None


@dataclass(frozen=True, slots=True)
class StoreStaff:
    """A store with the memberships of its staff."""

    store: Store
    memberships: tuple[Membership, ...]


def with_second_factor(users: QuerySet[User]) -> QuerySet[User]:
    """Annotate each user with whether a second factor is set up; `User.has_second_factor` then needs no query."""
    devices = SealedDevice.objects.filter(user=OuterRef("pk"), confirmed=True)
    return users.annotate(second_factor_set_up=Exists(devices))


def stores_of(user: User) -> list[Store]:
    """Return the stores whose people and stock a user may see: their own, or all for head office."""
    if Role.OFFICE in user.roles():
        return list(Store.objects.all())
    return list(Store.objects.filter(pk__in=user.store_ids()))


def account_list(wanted: AccountFilter) -> QuerySet[User]:
    """Return accounts ordered by user name, with their roles and whether they have a second factor."""
    users = with_second_factor(User.objects.all()).prefetch_related("memberships__store").order_by("username")
    for word in wanted.q.split():
        users = users.filter(Q(username__icontains=word) | Q(first_name__icontains=word) | Q(last_name__icontains=word))
    if wanted.role or wanted.store:
        memberships = Membership.objects.filter(user=OuterRef("pk"))
        memberships = memberships.filter(role=wanted.role) if wanted.role else memberships
        memberships = memberships.filter(store=wanted.store) if wanted.store else memberships
        users = users.filter(Exists(memberships))
    match wanted.state:
        case "on":
            users = users.filter(is_active=True)
        case "off":
            users = users.filter(is_active=False)
        case "no-role":
            users = users.filter(is_active=True, memberships__isnull=True)
    return users


def account_get(pk: int) -> User:
    return get_object_or_404(with_second_factor(User.objects.all()), pk=pk)


def account_changes(user: User) -> QuerySet[AuditEntry]:
    """Return the newest audit entries on an account and its roles, including roles that were withdrawn."""
    of_account = Q(object_type=user._meta.label_lower, object_id=str(user.pk))
    # In the trail's JSON, sorted by key, `user_id` is the last column of a membership.
    of_roles = Q(object_type=Membership._meta.label_lower, payload__contains=f'"user_id":{user.pk}}}')
    return AuditEntry.objects.filter(of_account | of_roles).select_related("actor")[:CHANGES_SHOWN]


def tokens_of(user: User) -> QuerySet[AuthToken]:
    """Return the tokens that have not expired, newest first."""
    is_valid = Q(expiry__isnull=True) | Q(expiry__gt=Now())
    oldest = timezone.now() - dt.timedelta(days=TOKEN_MOST_DAYS)
    tokens: QuerySet[AuthToken] = AuthToken.objects.filter(is_valid, user=user, created__gt=oldest)
    return tokens.select_related("note").order_by("-created")


def token_by_start(user: User, start: str) -> AuthToken:
    """Return a token by its first characters; where two tokens begin alike, the newer one."""
    row = next((row for row in tokens_of(user) if row.token_key.startswith(start)), None) if start else None
    if row is None:
        raise Http404
    return row


def recovery_codes_left(user: User) -> int:
    return StaticToken.objects.filter(device__user=user, device__confirmed=True).count()


def staff_of_managed_stores(manager: User) -> list[StoreStaff]:
    """Return the staff of each store that a manager manages, in two queries."""
    stores = Store.objects.filter(pk__in=store_ids_where(manager, "core.staff:manage"))
    by_store: dict[int, list[Membership]] = {store.pk: [] for store in stores}
    memberships = Membership.objects.filter(store__in=by_store, user__is_active=True).select_related("user")
    for membership in memberships.order_by("user__username", "role"):
        by_store[membership.store_id or 0].append(membership)
    return [StoreStaff(store, tuple(by_store[store.pk])) for store in stores]


def store_for(user: User, slug: str, action: str) -> tuple[Store, bool]:
    """Return a store the user works in, and whether the action is allowed there. Any other store is a 404."""
    store = get_object_or_404(Store.objects.filter(pk__in=user.store_ids()), slug=slug)
    return store, allowed(user, action, store)


def open_requests() -> QuerySet[AccountRequest]:
    """What one head office account asked for and another one has to confirm, the oldest first."""
    rows = AccountRequest.objects.filter(decision="").select_related("user", "store", "asked_by")
    return rows.order_by("asked_at", "pk")


def security_events(wanted: EventFilter) -> QuerySet[SecurityEvent]:
    """Return the events of the security log, newest first, with the accounts they name."""
    events = SecurityEvent.objects.select_related("user", "actor")
    if wanted.kinds:
        events = events.filter(kind__in=wanted.kinds)
    if wanted.account:
        of_user, by_actor = Q(user__username__iexact=wanted.account), Q(actor__username__iexact=wanted.account)
        events = events.filter(of_user | by_actor)
    if wanted.since:
        events = events.filter(at__gte=_start_of(wanted.since))
    if wanted.until:
        events = events.filter(at__lt=_start_of(wanted.until + dt.timedelta(days=1)))
    return events


def _start_of(day: dt.date) -> dt.datetime:
    return timezone.make_aware(dt.datetime.combine(day, dt.time.min))
