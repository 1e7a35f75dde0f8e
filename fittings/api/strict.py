"""Bodies and queries in which nothing unknown is passed over: what the schema does not name is refused by its name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from rest_framework import serializers
from rest_framework.request import Request

from core.web import strict

RENAMED = {"heel_deviation": "rearfoot_eversion", "heel_deviation_deg": "rearfoot_eversion"}
"""Keys of earlier versions, and what they are called now."""

QUERY_TEXT_MAX = 200


class StrictSerializer(strict.StrictSerializer):
    """A body whose unknown keys are refused, each by its name."""

    renamed = RENAMED


class WholeQuery(serializers.IntegerField):
    """A whole number in the query string, written in plain digits."""

    def to_internal_value(self, data: Any) -> int:
        text = str(data)
        if not text.isascii() or not text.isdecimal() or len(text) > 9:
            message = f"{self.field_name} must be a whole number from {self.min_value} to {self.max_value}, got "
            raise serializers.ValidationError(f"{message}{text[:20]!r}")
        return int(text)


class FlagQuery(serializers.BooleanField):
    """true or false in the query string."""

    def to_internal_value(self, data: Any) -> bool:
        if data not in ("true", "false"):
            raise serializers.ValidationError(f"{self.field_name} must be true or false, got {str(data)[:20]!r}")
        return bool(data == "true")


class NoQuery(StrictSerializer):
    """An address that takes nothing in its query string."""


class PageQuery(StrictSerializer):
    """Which page of a list, and how many rows it has."""

    page = WholeQuery(required=False, min_value=1, max_value=1_000_000, help_text="Which page; the first if left out.")
    page_size = WholeQuery(required=False, min_value=1, max_value=500, help_text="Rows a page; 50 if left out.")


def read_query(kind: type[StrictSerializer], request: Request) -> dict[str, Any]:
    """Return the checked query string; a key given twice is refused unless it takes several values."""
    fields = kind().fields
    given: dict[str, Any] = {}
    problems: dict[str, list[str]] = {}
    for key, values in request.query_params.lists():
        takes_many = isinstance(fields.get(key), serializers.ListField)
        if len(values) > 1 and not takes_many:
            problems[key] = [f"{key[:80]} was given {len(values)} times. Give it once."]
        given[key] = values if takes_many else values[-1]
    if problems:
        raise serializers.ValidationError(problems)
    query = kind(data=given)
    query.is_valid(raise_exception=True)
    return dict(query.validated_data)


class QueryMixin:
    """Checks the query string of a view before the view runs; `query` names its keys by method."""

    query: ClassVar[Mapping[str, type[StrictSerializer]]] = {}
    asked: dict[str, Any]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)  # type: ignore[misc]
        self.asked = read_query(self.query.get(request.method or "", NoQuery), request)


class Email(strict.Text, serializers.EmailField):
    """An e-mail address."""
