"""Notices of the laboratory: what was taken back, which customers of the store to inform, which wall cards to print."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from core.gate.access import allowed, gate
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings import services
from fittings.selectors.people.notices import affected_by, notice_for, notices_for, walls_with
from fittings.views.common import domain_errors_as_pages

PAGE = 30


@gate("fittings.notice:read")
@require_safe
def notice_list(request: HttpRequest) -> HttpResponse:
    page = Paginator(notices_for(actor_of(request)), PAGE).get_page(request.GET.get("page"))
    return render(request, "fittings/notice_list.html", {"page": page})


@gate("fittings.notice:read")
@never_cache
@require_safe
@domain_errors_as_pages
def notice_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Whom to inform and what hangs: people and wall cards of the reader's own stores, and no others."""
    actor = actor_of(request)
    notice = notice_for(actor, pk)
    context = {"notice": notice, "affected": affected_by(actor, notice), "walls": walls_with(actor, notice)}
    context["may_print"] = allowed(request.user, "catalogue.wall_card:print")
    return render(request, "fittings/notice_detail.html", context)


@gate("fittings.notice:inform")
@require_POST
@domain_errors_as_pages
def notice_informed(request: HttpRequest, pk: int, choice: int) -> HttpResponse:
    """Mark as informed a customer who was informed; `informed=no` takes a tick made by mistake away."""
    actor = actor_of(request)
    is_informed = request.POST.get("informed") != "no"
    services.notice_tick(actor=actor, notice=notice_for(actor, pk), choice=choice, is_informed=is_informed)
    messages.success(request, "Noted." if is_informed else "The tick was removed; the audit trail still shows it.")
    return redirect("fittings:notice-detail", pk)
