"""Head office: the security log."""

from __future__ import annotations

from django.conf import settings
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from core.accounts.security_log_form import SecurityLogForm
from core.accounts.selectors import security_events
from core.gate.access import gate
from core.web.forms import status_of

EVENTS_PER_PAGE = 100


@gate("core.security_log:read")
@require_GET
def security_log(request: HttpRequest) -> HttpResponse:
    """Show the events that the filters leave, newest first."""
    form = SecurityLogForm(request.GET)
    page = Paginator(security_events(form.wanted()), EVENTS_PER_PAGE).get_page(request.GET.get("page"))
    context = {"form": form, "page": page, "days": settings.SECURITY_LOG_RETENTION_DAYS}
    return render(request, "core/security_log.html", context, status=status_of(form))
