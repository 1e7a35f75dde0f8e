"""The query string of an API address, read strictly by a form that also describes it."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.http import QueryDict
from drf_spectacular.utils import OpenApiParameter

from core.domain.errors import DomainError
from core.web.api import PracticePagination

PAGE_MOST = 1_000_000
SHOWN_MOST = 40
# As JSON writes numbers: Python alone would also take "1_0" and digits of other scripts.
_NUMBER = re.compile(r"-?\d{1,15}(\.\d{1,20})?([eE][-+]?\d{1,3})?", re.ASCII)
_CONTROL = re.compile(r"[\x00-\x1f\x7f]+")


class QueryForm(forms.Form):
    """Which keys an address takes, and which values. A subclass declares its fields, all of them `required=False`.

    An unknown key, a key given twice and a value outside the description are refused with an error that names them.
    """

    @classmethod
    def read(cls, query: QueryDict) -> dict[str, Any]:
        """Return the values by key, None or empty where a key is left out.

        Raises
        ------
        DomainError
            400, code "bad_query", with a sentence for each key that is wrong.
        """
        form = cls(query)
        problems = {key: [f"{key} is not known here. {cls._known()}"] for key in query if key not in form.fields}
        for name, field in form.fields.items():
            if name in query and (problem := _spelling(name, field, query.getlist(name))):
                problems[name] = [problem]
        if not form.is_valid():
            for name, found in form.errors.items():
                problems.setdefault(name, [f"{name}: {' '.join(str(text) for text in found)}"])
        if problems:
            sentences = " ".join(sentence for found in problems.values() for sentence in found)
            raise DomainError(sentences, code="bad_query", fields=problems)
        return form.cleaned_data

    @classmethod
    def _known(cls) -> str:
        names = list(cls.base_fields)
        return f"Known are {', '.join(names)}." if names else "This address takes no query."

    @classmethod
    def parameters(cls) -> list[OpenApiParameter]:
        """Return the description of the keys, for the schema."""
        return [
            OpenApiParameter(
                name,
                _schema(field),
                OpenApiParameter.QUERY,
                description=str(field.help_text),
                explode=True,
                style="form",
            )
            for name, field in cls.base_fields.items()
        ]


class FlagField(forms.TypedChoiceField):
    """true or false; None where it is left out."""

    def __init__(self, **more: Any) -> None:
        choices = [("true", "true"), ("false", "false")]
        super().__init__(choices=choices, coerce=lambda text: text == "true", empty_value=None, required=False, **more)


class NoQuery(QueryForm):
    """An address without a query."""


class PageQuery(QueryForm):
    """A list that is read page by page."""

    page = forms.IntegerField(
        min_value=1, max_value=PAGE_MOST, required=False, help_text="From 1; a page after the last one is refused."
    )
    page_size = forms.IntegerField(
        min_value=1,
        max_value=PAGE_MOST,
        required=False,
        help_text=f"{PracticePagination.page_size} where left out; more than {PracticePagination.max_page_size} "
        f"gives {PracticePagination.max_page_size}.",
    )


def _shown(text: str) -> str:
    flat = _CONTROL.sub(" ", text)
    return f"“{flat[:SHOWN_MOST]}…”" if len(flat) > SHOWN_MOST else f"“{flat}”"


def _is_text(field: forms.Field) -> bool:
    return type(field) is forms.CharField


def _spelling(name: str, field: forms.Field, values: list[str]) -> str:
    """Say what is wrong with how a value is written, "" where nothing is."""
    if len(values) > 1 and not isinstance(field, forms.MultipleChoiceField):
        return f"{name} can be given once, got {_shown(values[0])} and {_shown(values[1])}."
    for value in values:
        if not value and not _is_text(field):
            return f"{name} is empty. Leave the key out, or give it a value."
        if isinstance(field, forms.IntegerField) and not _NUMBER.fullmatch(value):
            return f"{name} must be a number written with digits and a decimal point, got {_shown(value)}."
    return ""


def _schema(field: forms.Field) -> dict[str, Any]:
    match field:
        case forms.MultipleChoiceField():
            return {"type": "array", "items": _one(field)}
        case FlagField():
            return {"type": "boolean"}
        case forms.FloatField():
            return {"type": "number", "format": "double", **_bounds(field)}
        case forms.IntegerField():
            return {"type": "integer", **_bounds(field)}
        case forms.DateTimeField():
            return {"type": "string", "format": "date-time"}
        case forms.DateField():
            return {"type": "string", "format": "date"}
        case _:
            return _one(field)


def _one(field: Any) -> dict[str, Any]:
    choices = [value for value, _ in getattr(field, "choices", ()) if value != ""]
    if choices:
        return {"type": "string", "enum": choices}
    schema: dict[str, Any] = {"type": "string"}
    if getattr(field, "max_length", None) is not None:
        schema["maxLength"] = field.max_length
    if isinstance(field, forms.RegexField):
        schema["pattern"] = field.regex.pattern
    return schema


def _bounds(field: forms.IntegerField) -> dict[str, Any]:
    ends = {"minimum": field.min_value, "maximum": field.max_value}
    return {name: end for name, end in ends.items() if end is not None}
