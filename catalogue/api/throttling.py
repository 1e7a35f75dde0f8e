"""How often an address without an account may ask the API: so many requests a minute, counted for all workers together.

The counts lie in a table that PostgreSQL does not log: one quick statement a request, shared by every process and
server, gone after a crash. A minute is a window of the clock, so twice the number can pass around its end.
"""

from __future__ import annotations

import time
from typing import Any, ClassVar, NoReturn

from django.conf import settings
from django.db import connection
from rest_framework.exceptions import Throttled
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle
from rest_framework.views import APIView

from core.accounts.lockout import lockout_address
from core.web.query_forms import NoQuery, QueryForm

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
        # The address as the lockout knows it: what stands left of our own proxies is not believed.
        address = lockout_address(request._request) or ""
        return count_request(address, int(self.now // MINUTE)) <= limit

    def wait(self) -> float:
        return MINUTE - self.now % MINUTE


class VisitorView(APIView):
    """A view of the public API; `asked` holds what its query says, read by the form `query`."""

    throttle_classes = (VisitorThrottle,)
    query: ClassVar[type[QueryForm]] = NoQuery
    asked: dict[str, Any]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        is_read = request.method in ("GET", "HEAD")
        self.asked = (self.query if is_read else NoQuery).read(request.query_params)

    def throttled(self, request: Request, wait: float | None) -> NoReturn:
        limit = settings.API_VISITOR_REQUESTS_PER_MINUTE
        raise AskedTooOften(wait, f"More than {limit} requests came from your address in this minute.")
