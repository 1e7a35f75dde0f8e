"""Shared by every API address: pagination, and one response body for errors."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404
from rest_framework import exceptions
from rest_framework.pagination import PageNumberPagination
from rest_framework.response import Response
from rest_framework.views import exception_handler

from core.database.validation import from_validation_error
from core.domain.errors import DomainError


class PracticePagination(PageNumberPagination):
    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 500


def _body(detail: str, code: str, fields: Any = None) -> dict[str, Any]:
    return {"detail": detail, "code": code, "fields": fields or {}}


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
        fields = problem.detail if isinstance(problem.detail, dict) else {}
        response.data = _body(_plain(problem.detail), "invalid", fields)
    elif isinstance(problem, exceptions.APIException):
        codes = problem.get_codes()
        response.data = _body(_plain(problem.detail), codes if isinstance(codes, str) else "invalid")
    elif isinstance(problem, Http404):
        response.data = _body("There is no such address or record, or you have no access to it.", "not_found")
    elif isinstance(problem, PermissionDenied):
        response.data = _body("Your role does not allow this.", "permission_denied")
    return response
