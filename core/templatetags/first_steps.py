"""The pointer to the first steps of a new practice, on head office's start page."""

from __future__ import annotations

from typing import Any

from django import template
from django.template.context import Context

from core.web import first_steps

register = template.Library()


@register.inclusion_tag("components/first_steps.html", takes_context=True)
def first_steps_note(context: Context) -> dict[str, Any]:
    return {"missing": first_steps.steps_missing(context.get("user"))}
