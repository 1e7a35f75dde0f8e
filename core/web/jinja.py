"""Jinja2 for the parts of pages that repeat: rows, marks, options.

A page of the list has hundreds of them; Django's own templates take several times as long to write them.
"""

from __future__ import annotations

from typing import Any

from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe
from jinja2 import Environment, StrictUndefined

from core.domain.figures import grouped
from core.web import display


def environment(**options: Any) -> Environment:
    """Return the environment that `TEMPLATES` names: every value is escaped, an unknown name is an error."""
    made = Environment(**{**options, "undefined": StrictUndefined, "trim_blocks": True, "lstrip_blocks": True})  # noqa: S701  autoescape is among Django's options
    made.filters |= {
        "probability": display.probability,
        "is_in_doubt": display.is_in_doubt,
        "grouped": grouped,
        "number": display.number,
    }
    return made


def fragment(template: str, **context: Any) -> SafeString:
    """Write a template of `templates/jinja/`."""
    # Safe: every value in it was escaped where it was put in.
    return mark_safe(render_to_string(template, context, using="jinja2"))  # noqa: S308
