"""How often an address without an account may ask the API: so many requests a minute.

The counts are in a table that PostgreSQL does not log: one quick statement a request, shared by every process and
server, gone after a crash. Where replicas answer visitors, nothing that a visitor asks may need the primary: then each
process counts for itself, and the limit is one of a process. A minute is a window of the clock, so twice the number can
pass around its end.
"""

from __future__ import annotations

import time
from collections import Counter
from threading import Lock
from typing import NoReturn

from django.conf import settings
from django.db import connection
from rest_framework.exceptions import Throttled
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle
from rest_framework.views import APIView

from core.accounts.lockout import lockout_address
from core.web.api import QueryView

MINUTE = 60
_COUNT = """
INSERT INTO catalogue_apiallowance AS held (address, minute, requests) VALUES (%s, %s, 1)
ON CONFLICT (minute, address) DO UPDATE SET requests = held.requests + 1 RETURNING requests
"""
_FORGET = "DELETE FROM catalogue_apiallowance WHERE minute < %s"


def count_request(address: str, minute: int) -> int:
    """Count a request and return how many there were in this minute."""
    with connection.cursor() as cursor:
        cursor.execute(_COUNT, [address, minute])
        (requests,) = cursor.fetchone()
        if requests == 1:
            # Once a minute and address is often enough to clear what nobody asks for any more.
            cursor.execute(_FORGET, [minute - 1])
    return int(requests)


class OwnCounts:
    """The requests of the last minute, counted in this process."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._minute = 0
        self._counts: Counter[str] = Counter()

    def count(self, address: str, minute: int) -> int:
        """Count a request and return how many there were in this minute."""
        with self._lock:
            if minute != self._minute:
                self._minute = minute
                self._counts.clear()
            self._counts[address] += 1
            return self._counts[address]


_own_counts = OwnCounts()


class AskedTooOften(Throttled):
    """An address without an account asked too often; the answer has Retry-After."""

    extra_detail_singular = extra_detail_plural = (
        "Ask again in {wait} s. Pages may be longer (page_size up to 500), unchanged answers cost nothing to keep "
        "(If-None-Match), and a token lifts the limit."
    )


class VisitorThrottle(BaseThrottle):
    """Let people who signed in, and programs with a token, ask as they like; others so often a minute."""

    now = 0.0

    def allow_request(self, request: Request, view: APIView) -> bool:
        limit = settings.API_VISITOR_REQUESTS_PER_MINUTE
        if not limit or request.user.is_authenticated:
            return True
        self.now = time.time()
        # The address as the lockout knows it: what is left of our own proxies in the header is not believed.
        address = lockout_address(request._request) or ""
        count = _own_counts.count if settings.REPLICAS else count_request
        return count(address, int(self.now // MINUTE)) <= limit

    def wait(self) -> float:
        return MINUTE - self.now % MINUTE


class VisitorView(QueryView):
    """A view of the public API."""

    throttle_classes = (VisitorThrottle,)

    def throttled(self, request: Request, wait: float | None) -> NoReturn:
        limit = settings.API_VISITOR_REQUESTS_PER_MINUTE
        raise AskedTooOften(wait, f"More than {limit} requests came from your address in this minute.")
