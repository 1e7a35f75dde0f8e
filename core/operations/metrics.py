"""Counts for a monitoring system, in Prometheus' text format, added up over all worker processes.

Names of routes are counted, never addresses: those of customers' links would let anybody open them. `manage.py serve`
sets PROMETHEUS_MULTIPROC_DIR, the folder where the worker processes put their counts.
"""

from __future__ import annotations

import os

from django.http import HttpRequest
from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

REQUESTS = Counter("benchlast_requests_total", "Requests answered.", ["method", "route", "status"])
SECONDS = Histogram(
    "benchlast_request_seconds",
    "Time to answer a request.",
    ["route"],
    buckets=(0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0),
)

METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
MEDIA_TYPE = CONTENT_TYPE_LATEST


def route_of(request: HttpRequest) -> str:
    """Return the name of the route that answered, or "none"."""
    match = request.resolver_match
    return (match.view_name or "none") if match else "none"


def count(request: HttpRequest, *, status: int, seconds: float) -> None:
    """Count a request that was answered."""
    route, method = route_of(request), request.method
    # A made-up method or address must not make a new row of the table.
    REQUESTS.labels(method if method in METHODS else "other", route, str(status)).inc()
    SECONDS.labels(route).observe(seconds)


def text() -> bytes:
    """Return the counts of all processes in Prometheus' text format."""
    registry = CollectorRegistry()
    if os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
    else:
        for metric in (REQUESTS, SECONDS):
            registry.register(metric)
    return generate_latest(registry)
