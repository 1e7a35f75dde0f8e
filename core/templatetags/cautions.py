"""The cautions on a topic, for components/caution.html."""

from __future__ import annotations

from django import template

from core.web.cautions import cautions, cautions_in_brief

register = template.Library()


@register.simple_tag
def cautions_for(topic: str = "", *, short: bool = False) -> tuple[str, ...]:
    return (cautions_in_brief if short else cautions)(topic or "score")
