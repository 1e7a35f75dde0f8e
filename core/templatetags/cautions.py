"""The cautions on a topic, for components/caution.html."""

from __future__ import annotations

from django import template

from core.web.cautions import cautions

register = template.Library()


@register.simple_tag
def cautions_for(topic: str = "") -> tuple[str, ...]:
    return cautions(topic or "score")
