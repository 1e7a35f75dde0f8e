"""Notices of incidents: what was taken back, and which customers of the store to inform."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from core.gate.permissions import gate
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings.selectors.notices import affected_by, notice_for, notices_for
from fittings.views.common import refusals_as_pages

PAGE = 30


@gate("fittings.notice:read")
@require_safe
def notice_list(request: HttpRequest) -> HttpResponse:
    page = Paginator(notices_for(actor_of(request)), PAGE).get_page(request.GET.get("page"))
    return render(request, "fittings/notice_list.html", {"page": page})


@gate("fittings.notice:read")
@never_cache
@require_safe
@refusals_as_pages
def notice_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Whom to inform: the people of the reader's own stores, and nobody else."""
    actor = actor_of(request)
    notice = notice_for(actor, pk)
    return render(request, "fittings/notice_detail.html", {"notice": notice, "affected": affected_by(actor, notice)})
