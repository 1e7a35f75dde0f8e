"""Reads of accounts: who there is, what they hold, the tokens and the last changes of one."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Now
from django.http import Http404
from django.shortcuts import get_object_or_404
from django_otp.plugins.otp_static.models import StaticToken
from knox.models import AuthToken

from core.gate.permissions import Role, allowed
from core.models import AuditEntry, Membership, SealedDevice, Store, User

CHANGES_SHOWN = 20
STATES = {"on": "switched on", "off": "switched off", "no-role": "without a role"}


@dataclass(frozen=True, slots=True)
class AccountFilter:
    """What the list of accounts is narrowed to; an empty value does not narrow."""

    q: str = ""
    role: str = ""
    store: Store | None = None
    state: str = ""


@dataclass(frozen=True, slots=True)
class StoreStaff:
    """A store with the memberships of those who work in it."""

    store: Store
    memberships: tuple[Membership, ...]


def with_second_factor(users: QuerySet[User]) -> QuerySet[User]:
    """Read with each user whether a second factor is set up; `User.has_second_factor` then asks nothing more."""
    devices = SealedDevice.objects.filter(user=OuterRef("pk"), confirmed=True)
    return users.annotate(second_factor_found=Exists(devices))


def stores_of(user: User) -> list[Store]:
    """Return the stores whose people and stock a user may see: their own, or all for head office."""
    if Role.OFFICE in user.roles():
        return list(Store.objects.all())
    return list(Store.objects.filter(pk__in=user.store_ids()))


def account_list(wanted: AccountFilter) -> QuerySet[User]:
    """Return accounts by user name, with their roles and whether they have a second factor."""
    users = with_second_factor(User.objects.all()).prefetch_related("memberships__store").order_by("username")
    for word in wanted.q.split():
        users = users.filter(Q(username__icontains=word) | Q(first_name__icontains=word) | Q(last_name__icontains=word))
    if wanted.role or wanted.store:
        held = Membership.objects.filter(user=OuterRef("pk"))
        held = held.filter(role=wanted.role) if wanted.role else held
        held = held.filter(store=wanted.store) if wanted.store else held
        users = users.filter(Exists(held))
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
    """Return the newest entries of the trail on an account and on its roles, withdrawn ones too."""
    of_account = Q(object_type=user._meta.label_lower, object_id=str(user.pk))
    # `user_id` is the last column of a membership in the trail's sorted JSON.
    of_roles = Q(object_type=Membership._meta.label_lower, payload__contains=f'"user_id":{user.pk}}}')
    return AuditEntry.objects.filter(of_account | of_roles).select_related("actor")[:CHANGES_SHOWN]


def tokens_of(user: User) -> QuerySet[AuthToken]:
    """Return the tokens that still open the API, newest first."""
    alive = Q(expiry__isnull=True) | Q(expiry__gt=Now())
    found: QuerySet[AuthToken] = AuthToken.objects.filter(alive, user=user).select_related("note").order_by("-created")
    return found


def token_by_start(user: User, start: str) -> AuthToken:
    """Return a token by its first characters; two that begin alike by the newer one."""
    row = next((row for row in tokens_of(user) if row.token_key.startswith(start)), None) if start else None
    if row is None:
        raise Http404
    return row


def recovery_codes_left(user: User) -> int:
    return StaticToken.objects.filter(device__user=user, device__confirmed=True).count()


def staff_of_managed_stores(manager: User) -> list[StoreStaff]:
    """Return the people of each store that a manager manages, in two queries."""
    stores = Store.objects.filter(pk__in=_managed_ids(manager))
    by_store: dict[int, list[Membership]] = {store.pk: [] for store in stores}
    held = Membership.objects.filter(store__in=by_store, user__is_active=True).select_related("user")
    for membership in held.order_by("user__username", "role"):
        by_store[membership.store_id or 0].append(membership)
    return [StoreStaff(store, tuple(by_store[store.pk])) for store in stores]


def _managed_ids(manager: User) -> list[int]:
    held = manager.memberships_held()
    return [row.store_id for row in held if row.role == Role.MANAGER and row.store_id is not None]


def store_for(user: User, slug: str, action: str) -> tuple[Store, bool]:
    """Return a store the user works in, and whether they may do this there; any other store does not exist for them."""
    store = get_object_or_404(Store.objects.filter(pk__in=user.store_ids()), slug=slug)
    return store, allowed(user, action, store)
