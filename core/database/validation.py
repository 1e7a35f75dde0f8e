"""Django's validation of a record, with domain errors."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError

from core.domain.errors import DomainError


def from_validation_error(problem: ValidationError) -> DomainError:
    """Convert a model's validation error to a domain error, field by field."""
    fields = dict(problem.message_dict) if hasattr(problem, "error_dict") else {}
    return DomainError("; ".join(problem.messages), code="invalid", fields=fields)


def check(record: Any) -> None:
    """Have the model check all of a record, before it is saved."""
    try:
        record.full_clean()
    except ValidationError as problem:
        raise from_validation_error(problem) from problem


def check_fields(record: Any, *, but: set[str]) -> None:
    """Have the model check the columns alone, except for some: for many records without a query for each."""
    try:
        record.clean_fields(exclude=but)
    except ValidationError as problem:
        raise from_validation_error(problem) from problem
