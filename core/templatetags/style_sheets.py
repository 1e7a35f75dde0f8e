"""The links to the style sheets that every page has."""

from __future__ import annotations

from django import template
from django.contrib.staticfiles.storage import staticfiles_storage
from django.templatetags.static import static
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from core.web.style_sheets import PARTS, WHOLE, StyleSheetStorage

register = template.Library()


@register.simple_tag
def site_styles() -> SafeString:
    """Link one file where files are collected, and its parts where they are served as they are written."""
    names = (WHOLE,) if isinstance(staticfiles_storage, StyleSheetStorage) else PARTS
    return format_html_join("\n  ", '<link rel="stylesheet" href="{}">', ((static(name),) for name in names))
