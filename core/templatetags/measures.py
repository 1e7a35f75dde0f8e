"""Filters for numbers, units and dates: `{% load measures %}`, then `{{ shoe.mass_g|mass:units }}`.

`units` is in every page's context. The rules are in `core.web.display`.
"""

from __future__ import annotations

from functools import partial
from typing import Any

from django import template
from django.utils.safestring import SafeString

from core.domain.figures import grouped
from core.web import display
from core.web.jinja import fragment

register = template.Library()

register.filter("grouped", grouped)
register.filter("number", display.number)
register.filter("signed", display.signed)
register.filter("percent", display.percent)
register.filter("probability", display.probability)
register.filter("is_in_doubt", display.is_in_doubt)
register.filter("size", display.size)
register.filter("dialled", display.dialled)
register.filter("day", display.day)
register.filter("moment", display.moment)


def _measure(value: display.Number | None, system: str = display.METRIC, *, kind: str) -> str:
    return display.measure(value, kind, system)


# Django already has a filter `length`, for counting.
_NAMES = {"length": "length_mm"}
for _kind in display.STYLES:
    register.filter(_NAMES.get(_kind, _kind), partial(_measure, kind=_kind))


@register.simple_tag
def band_chip(band: Any, plain: Any = False) -> SafeString:
    """Write a band's chip, which Jinja2 templates write too; see components/band_chip.html."""
    return fragment("components/band_chip_alone.html", band=band, plain=bool(plain))
