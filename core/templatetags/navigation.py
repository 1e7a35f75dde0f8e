"""The navigation bars at the top of a page; `core.gate.access.allowed` decides what a user sees in them."""

from __future__ import annotations

from typing import Any

from django import template
from django.template.context import Context

from core.gate import navigation

register = template.Library()


def _reader(context: Context) -> tuple[Any, str]:
    """Return the user and the path; a page rendered outside a request has neither."""
    request = context.get("request")
    return context.get("user"), request.path if request is not None else ""


@register.inclusion_tag("components/site_nav.html", takes_context=True)
def site_nav(context: Context) -> dict[str, Any]:
    return {"items": navigation.site_links(*_reader(context))}


@register.inclusion_tag("components/staff_nav.html", takes_context=True)
def staff_nav(context: Context) -> dict[str, Any]:
    return {"groups": navigation.staff_groups(*_reader(context))}


@register.inclusion_tag("components/training_note.html", takes_context=True)
def training_note(context: Context) -> dict[str, Any]:
    """The training stores that the reader works in, from the memberships that the bar was read with."""
    user, _ = _reader(context)
    held = user.memberships_held() if getattr(user, "is_authenticated", False) else []
    return {"stores": [row.store for row in held if row.store is not None and row.store.is_training]}


@register.inclusion_tag("components/site_tools.html", takes_context=True)
def site_tools(context: Context) -> dict[str, Any]:
    request = context.get("request")
    # After a refused form the page is at the address of a POST, which may not accept a GET.
    return {
        "user": context.get("user"),
        "units": context.get("units", "metric"),
        "csrf_token": context.get("csrf_token"),
        "next": request.get_full_path() if request is not None and request.method in ("GET", "HEAD") else "/",
    }
