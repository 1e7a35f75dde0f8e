"""One log line and one count a request: which route answered, how, and how long it took. Nothing about people."""

from __future__ import annotations

import logging
import time

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

from core.gate.middleware import GetResponse
from core.operations import metrics

log = logging.getLogger("benchlast.requests")


class RequestLogMiddleware:
    """Count and log every request that is not for a static file. A slow one is a warning."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        begun = time.perf_counter()
        response = self.get_response(request)
        seconds = time.perf_counter() - begun
        metrics.count(request, status=response.status_code, seconds=seconds)
        _log(request, response, seconds)
        return response


def _log(request: HttpRequest, response: HttpResponseBase, seconds: float) -> None:
    level = logging.WARNING if seconds >= settings.SLOW_REQUEST_SECONDS else logging.INFO
    if not log.isEnabledFor(level):
        return
    facts = {
        "method": request.method,
        "route": metrics.route_of(request),
        "status": response.status_code,
        "milliseconds": round(seconds * 1000),
        # The response is on its way out of the request's context: the id is read off its header.
        "request_id": response.headers.get("X-Request-Id", ""),
    }
    words = "slow request: " if level == logging.WARNING else ""
    message = words + "%(method)s %(route)s %(status)s in %(milliseconds)s ms"
    log.log(level, message, facts, extra=facts)
