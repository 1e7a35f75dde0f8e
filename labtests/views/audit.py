"""Pages of the audit trail: by who, what and when, and one entry with what it changed."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from core.gate.access import gate
from core.models import AuditEntry
from core.web.csv_export import csv_response
from core.web.forms import status_of
from labtests.forms.bench_tests import TrailForm
from labtests.presentation import trail as presentation
from labtests.selectors.trail import trail, trail_entry
from labtests.views.common import page_of

EXPORT_CHUNK = 200


@gate("labtests.audit:view")
@require_safe
def audit_list(request: HttpRequest) -> HttpResponse:
    form = TrailForm(request.GET)
    entries = trail(form.asked()) if form.is_valid() else AuditEntry.objects.none()
    page = page_of(entries, request)
    lines = [presentation.trail_line(entry) for entry in page.object_list]
    context = {"form": form, "page": page, "lines": lines}
    return render(request, "labtests/audit_list.html", context, status=status_of(form))


@gate("labtests.audit:view")
@require_safe
def audit_export(request: HttpRequest) -> HttpResponseBase:
    """The same entries as CSV, oldest first. Like every read of the trail this changes nothing and leaves no entry.

    `content` is the sealed text itself: sha256(previous_hash ‖ content) gives `hash`, whoever works it out.
    """
    form = TrailForm(request.GET)
    if not form.is_valid():
        return audit_list(request)
    entries = trail(form.asked()).order_by("id").iterator(chunk_size=EXPORT_CHUNK)
    rows = (presentation.trail_row(entry) for entry in entries)
    return csv_response("audit-trail.csv", presentation.TRAIL_COLUMNS, rows)


@gate("labtests.audit:view")
@require_safe
def audit_detail(request: HttpRequest, pk: int) -> HttpResponse:
    entry = trail_entry(pk)
    context = {
        "entry": entry,
        "line": presentation.trail_line(entry),
        "differences": presentation.differences(entry),
        "is_new": entry.content["before"] is None,
        "hash": bytes(entry.hash).hex(),
        "previous_hash": bytes(entry.previous_hash).hex(),
    }
    return render(request, "labtests/audit_detail.html", context)
