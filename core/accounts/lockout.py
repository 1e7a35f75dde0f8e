"""Limits on failed sign-ins: a low one per account and address, a higher one per address, and one per account.

Guesses at one account from many addresses are slowed down, not locked out: otherwise anybody could lock out anybody.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
from typing import Any

from axes.handlers.database import AxesDatabaseHandler
from axes.handlers.proxy import AxesProxyHandler
from axes.models import AccessAttempt
from django.conf import settings
from django.contrib.auth.signals import user_login_failed
from django.db.models import Max, QuerySet, Sum
from django.http import HttpRequest
from django.utils import timezone

from core.accounts.known_browsers import is_known
from core.accounts.security_log import note, note_lock
from core.gate.context import client_address
from core.models import SecurityEvent, SecurityKind, User

IPV6_PREFIX = 64
# By whom a failure is sent: Django's own sign-in by password, or the second step.
CODE_SENDER = __name__
IN_KNOWN_BROWSER = " in a known browser"
SLOWEST_SECONDS = 60
"""How long an account that is being guessed at from many addresses has to wait between guesses at most."""


def lockout_address(request: HttpRequest) -> str | None:
    """Return the address that failures are counted for.

    One household or server has a whole 64-bit IPv6 network, so failures are counted for the network.
    """
    text = client_address(request)
    if not text:
        return None
    address = ipaddress.ip_address(text)
    if isinstance(address, ipaddress.IPv4Address):
        return text
    if address.ipv4_mapped is not None:
        return str(address.ipv4_mapped)
    return str(ipaddress.ip_network((address, IPV6_PREFIX), strict=False).network_address)


class SignInLockout(AxesDatabaseHandler):
    """The lockout by account and address, and by address, each with its own limit, and the brake by account.

    The staff of a store share one address, so its limit is higher: one forgotten password must not lock out everyone.
    """

    def get_failures(self, request: Any, credentials: dict[str, Any] | None = None) -> int:
        """Return the failures, scaled so that reaching any limit counts as reaching the lowest one."""
        if _next_guess_at(request, credentials) is not None:
            return int(settings.AXES_FAILURE_LIMIT)
        of_account, of_address = (_total(rows) for rows in self.get_user_attempts(request, credentials))
        scaled = of_address * settings.AXES_FAILURE_LIMIT // settings.SIGN_IN_ADDRESS_FAILURE_LIMIT
        return max(of_account, scaled)

    def user_login_failed(self, sender: Any, credentials: dict[str, Any], request: Any = None, **kwargs: Any) -> None:
        """Count a failure and write it to the security log; tries during a lock are refused unread and not written."""
        was_locked = request is None or request.axes_locked_out
        super().user_login_failed(sender, credentials, request, **kwargs)
        if not was_locked:
            username = credentials.get("username")
            details = "wrong code" if sender == CODE_SENDER else "wrong password"
            details += IN_KNOWN_BROWSER if is_known(request, username or "") else ""
            note(SecurityKind.FAILED, user=User.objects.filter(username=username).first(), details=details)
            if request.axes_locked_out:
                self._note_lock(request, credentials)

    def _note_lock(self, request: HttpRequest, credentials: dict[str, Any]) -> None:
        of_account, _ = (_total(rows) for rows in self.get_user_attempts(request, credentials))
        if _next_guess_at(request, credentials) is not None:
            note_lock(credentials.get("username"), details="slowed down everywhere")
        elif of_account >= settings.AXES_FAILURE_LIMIT:
            note_lock(credentials.get("username"), details="from one network address")
        else:
            note(SecurityKind.ADDRESS_LOCKED, user=None)

    def reset_user_attempts(self, request: Any, credentials: dict[str, Any] | None = None) -> int:
        """Reset the failures of the account that signed in, but not those of other accounts at its address.

        Otherwise somebody with one valid password could try other people's passwords without limit.
        """
        of_account, _ = self.filter_user_attempts(request, credentials)
        count, _ = of_account.delete()
        return count


def _next_guess_at(request: HttpRequest, credentials: dict[str, Any] | None) -> dt.datetime | None:
    """Return when the account may be tried again from anywhere; None where it may be now.

    From the limit on each failure doubles the pause after the last one, from a second up to SLOWEST_SECONDS. A browser
    in which the account has signed in before does not wait: otherwise steady guessing would keep its owner out.
    """
    now, username = timezone.now(), (credentials or {}).get("username")
    rows = AccessAttempt.objects.filter(username=username, attempt_time__gt=now - settings.AXES_COOLOFF_TIME)
    failures = rows.aggregate(total=Sum("failures_since_start"), last=Max("attempt_time"))
    above = (failures["total"] or 0) - settings.SIGN_IN_ACCOUNT_FAILURE_LIMIT
    if above < 0 or (is_known(request, username or "") and not _is_guessed_in_known_browsers(username)):
        return None
    pause = min(2.0 ** min(above, SLOWEST_SECONDS), SLOWEST_SECONDS)
    free = failures["last"] + dt.timedelta(seconds=pause)
    return free if free > now else None


def _is_guessed_in_known_browsers(username: str | None) -> bool:
    """Return whether so much is guessed in browsers that the account knows that one of them may be in wrong hands."""
    since = timezone.now() - settings.AXES_COOLOFF_TIME
    failures = SecurityEvent.objects.filter(
        user__username=username, kind=SecurityKind.FAILED, details__endswith=IN_KNOWN_BROWSER, at__gt=since
    )
    return failures.count() >= 2 * settings.AXES_FAILURE_LIMIT


def _total(rows: QuerySet[AccessAttempt]) -> int:
    return rows.aggregate(total=Sum("failures_since_start"))["total"] or 0


def sign_in_allowed(request: HttpRequest, username: str) -> bool:
    """Return whether the account is not locked for this address."""
    return bool(AxesProxyHandler.is_allowed(request, {"username": username}))


def count_failure(request: HttpRequest, username: str) -> None:
    """Count a wrong second-factor code like a wrong password."""
    user_login_failed.send(sender=CODE_SENDER, credentials={"username": username}, request=request)


def lock_ends(request: Any, credentials: dict[str, Any] | None) -> dt.datetime:
    """Return when sign-in to this account is possible again from this address."""
    AxesProxyHandler.update_request(request)  # type: ignore[no-untyped-call]  # axes has no types
    handler = AxesProxyHandler.get_implementation()
    limits = (settings.AXES_FAILURE_LIMIT, settings.SIGN_IN_ADDRESS_FAILURE_LIMIT)
    attempts = handler.get_user_attempts(request, credentials)  # type: ignore[attr-defined]  # ours, by AXES_HANDLER
    ends = [_under_limit_at(rows, limit) for rows, limit in zip(attempts, limits, strict=True)]
    ends.append(_next_guess_at(request, credentials))
    return max((end for end in ends if end is not None), default=timezone.now())


def _under_limit_at(rows: QuerySet[AccessAttempt], limit: int) -> dt.datetime | None:
    """Return when enough failures have expired that fewer than the limit are left."""
    left, end = _total(rows), None
    for at, failures in rows.order_by("attempt_time").values_list("attempt_time", "failures_since_start"):
        if left < limit:
            break
        left, end = left - failures, at + settings.AXES_COOLOFF_TIME
    return end


def clear_failures(user: User) -> None:
    """Unlock the account from every address; an address that is locked itself stays locked."""
    AccessAttempt.objects.filter(username=user.username).delete()
