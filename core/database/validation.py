"""Django's validation errors as domain errors."""

from __future__ import annotations

from django.core.exceptions import ValidationError

from core.domain.errors import DomainError


def from_validation_error(problem: ValidationError) -> DomainError:
    """Convert a model's validation error to a domain error, field by field."""
    fields = dict(problem.message_dict) if hasattr(problem, "error_dict") else {}
    return DomainError("; ".join(problem.messages), code="invalid", fields=fields)
