"""`{% load problems %}{{ field|problems }}`: the errors of a form's field, as sentences for people."""

from __future__ import annotations

from django import template

from core.web.forms import field_problems

register = template.Library()
register.filter("problems", field_problems)
