"""Addresses for a monitoring system: alive, ready, counts."""

from __future__ import annotations

import hmac

from django.conf import settings
from django.db import Error, connection
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from core.database.replicas import watch
from core.gate.access import PUBLIC, gate
from core.operations import metrics
from core.operations.readiness import readiness

UNAVAILABLE = 503


@gate(PUBLIC)
@never_cache
@require_GET
def healthz(request: HttpRequest) -> JsonResponse:
    """Report whether this process and its database answer; a usable replica will do, for visitors are served by it."""
    watch().start()
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT to_regclass('django_migrations') IS NOT NULL")
            (is_migrated,) = cursor.fetchone()
    except Error:
        if watch().usable():
            return JsonResponse({"status": "ok", "database": "replicas only"})
        return JsonResponse({"status": "failing", "database": "unreachable"}, status=UNAVAILABLE)
    if not is_migrated:
        return JsonResponse({"status": "failing", "database": "empty: run migrate"}, status=UNAVAILABLE)
    return JsonResponse({"status": "ok", "database": "ok"})


@gate(PUBLIC)
@never_cache
@require_GET
def readyz(request: HttpRequest) -> JsonResponse:
    """Report whether requests may be sent here: the database is there, with this program's migrations and role."""
    state = readiness()
    return JsonResponse(state.as_json(), status=200 if state.is_ready else UNAVAILABLE)


@gate(PUBLIC)
@never_cache
@require_GET
def metrics_text(request: HttpRequest) -> HttpResponse:
    """Counts in Prometheus' text format, for whoever sends METRICS_TOKEN; without that setting there is no page."""
    if not settings.METRICS_TOKEN:
        raise Http404
    given = request.headers.get("Authorization", "").encode()
    if not hmac.compare_digest(given, f"Bearer {settings.METRICS_TOKEN}".encode()):
        return HttpResponse(
            "Send Authorization: Bearer and the METRICS_TOKEN.\n", status=401, content_type="text/plain"
        )
    return HttpResponse(metrics.text(), content_type=metrics.MEDIA_TYPE)
