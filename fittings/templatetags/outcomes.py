"""The places of the outcomes' pages: which of them a reader sees is decided by the gate."""

from __future__ import annotations

from typing import Any

from django import template

from core.gate.navigation import Link, links_to
from fittings.permissions import OUTCOME_PLACES

register = template.Library()


@register.simple_tag(takes_context=True)
def outcome_places(context: dict[str, Any]) -> tuple[Link, ...]:
    request = context["request"]
    return links_to(OUTCOME_PLACES, request.user, request.path)
