"""Shared by every API address: pagination, checked query keys, and one response body for errors."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from django.core.exceptions import PermissionDenied, ValidationError
from django.core.validators import RegexValidator
from django.http import Http404, QueryDict
from rest_framework import exceptions, serializers
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView, exception_handler

from core.database.validation import from_validation_error
from core.domain.errors import DomainError
from core.domain.quoting import quoted


class PracticePagination(PageNumberPagination):
    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 500


# As JSON writes numbers: Python alone would also take "1_0" and digits of other scripts.
_NUMBER = re.compile(r"-?[0-9]{1,15}(\.[0-9]{1,20})?([eE][-+]?[0-9]{1,3})?")


class WholeNumber(serializers.IntegerField):
    """A whole number in a query: digits alone, no sign, space or decimal point, at most 15 digits."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"max_value": 10**15 - 1, **options})

    def to_internal_value(self, data: Any) -> int:
        if re.fullmatch(r"[0-9]{1,15}", str(data)) is None:
            self.fail("invalid")
        return super().to_internal_value(data)


class QueryNumber(serializers.FloatField):
    """A number in a query, written with digits and a decimal point."""

    def to_internal_value(self, data: Any) -> float:
        if _NUMBER.fullmatch(str(data)) is None:
            self.fail("invalid")
        return super().to_internal_value(data)


class QueryFlag(serializers.BooleanField):
    """true or false in a query, in small letters."""

    def to_internal_value(self, data: Any) -> bool:
        if data not in ("true", "false"):
            self.fail("invalid", input=data)
        return bool(data == "true")


class Query(serializers.Serializer[Any]):
    """The query keys that an address accepts; this one accepts none.

    The OpenAPI parameters of an address are made from the same fields (`core.web.api_schema`), so that what is
    documented and what is accepted can't differ.
    """


class PageQuery(Query):
    """Which part of a list is asked for."""

    page = WholeNumber(required=False, min_value=1, help_text="From 1; a page past the last one is answered by 404.")
    page_size = WholeNumber(
        required=False,
        min_value=1,
        max_value=PracticePagination.max_page_size,
        help_text=f"Rows a page; {PracticePagination.page_size} where left out.",
    )


def query_text(shape: RegexValidator, hint: str, **options: Any) -> serializers.RegexField:
    """Return a field for a text of a given shape in a query; an empty text is refused like any other."""
    # Given to the field itself: a serializer builds its own copy from these arguments.
    words: Any = {"invalid": str(shape.message), "blank": str(shape.message)}
    return serializers.RegexField(
        shape.regex, required=False, trim_whitespace=False, help_text=hint, error_messages=words, **options
    )


def read_query(query: Query, parameters: QueryDict) -> dict[str, Any]:
    """Read the query keys of a request.

    Raises
    ------
    DomainError
        400, `fields` naming each key that is unknown, given more than once or has a value outside the schema.
    """
    known = query.fields
    problems = {name: [_unknown(name, known)] for name in parameters if name not in known}
    given: dict[str, Any] = {}
    for name in known.keys() & parameters.keys():
        values = parameters.getlist(name)
        if isinstance(known[name], (serializers.ListField, serializers.MultipleChoiceField)):
            given[name] = values
        elif len(values) > 1:
            problems[name] = [f"Give {name} once, not {len(values)} times."]
        else:
            given[name] = values[0]
    query.initial_data = given
    if not query.is_valid():
        problems = {name: [f"{name}: {_plain(errors)}"] for name, errors in query.errors.items()} | problems
    if problems:
        raise DomainError(_plain([*problems.values()]), code="bad_query", fields=problems)
    return dict(query.validated_data)


def _unknown(name: str, known: Iterable[str]) -> str:
    accepted = ", ".join(known)
    return f"There is no query key {quoted(name)} here. " + (f"Use {accepted}." if accepted else "Leave it out.")


class QueryView(APIView):
    """An address whose GET accepts the keys of `query` and no others; its other methods accept none.

    `asked` holds what was read, without the keys that were left out.
    """

    query: type[Query] = Query
    asked: dict[str, Any]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        if request.method is None or not hasattr(self, request.method.lower()):
            return  # answered with 405
        query = self.query if request.method in ("GET", "HEAD") else Query
        self.asked = read_query(query(), request.query_params)


def _body(detail: str, code: str, fields: Any = None) -> dict[str, Any]:
    return {"detail": detail, "code": code, "fields": fields or {}}


def _by_field(errors: Mapping[str, Any]) -> dict[str, list[str]]:
    """Return the texts of each field; those of a list's items or of a field's own fields begin with their place."""
    return {
        name: [f"{place}: {_plain(found)}" for place, found in value.items()]
        if isinstance(value, dict)
        else [text for text in map(_plain, value) if text]
        for name, value in errors.items()
    }


def _plain(errors: Any) -> str:
    """Flatten nested field errors to one text that names each field."""
    if isinstance(errors, dict):
        return "; ".join(f"{name}: {_plain(value)}" for name, value in errors.items() if value)
    if isinstance(errors, list):
        return "; ".join(text for text in (_plain(item) for item in errors) if text)
    return str(errors)


def api_exception_handler(problem: Exception, context: dict[str, Any]) -> Response | None:
    """Answer every expected error with the same body: detail, code, fields."""
    if isinstance(problem, ValidationError):
        problem = from_validation_error(problem)
    if isinstance(problem, DomainError):
        return Response(_body(problem.message, problem.code, problem.fields), status=problem.status)
    response = exception_handler(problem, context)
    if response is None:
        return None
    if isinstance(problem, exceptions.ValidationError):
        fields = _by_field(problem.detail) if isinstance(problem.detail, dict) else {}
        response.data = _body(_plain(problem.detail), "invalid", fields)
    elif isinstance(problem, exceptions.APIException):
        codes = problem.get_codes()
        response.data = _body(_plain(problem.detail), codes if isinstance(codes, str) else "invalid")
    elif isinstance(problem, Http404):
        response.data = _body("This address or record does not exist, or you have no access to it.", "not_found")
    elif isinstance(problem, PermissionDenied):
        response.data = _body("Your role does not allow this.", "permission_denied")
    return response
