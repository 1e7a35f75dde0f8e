"""Django's validation of a record, with domain errors."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import CheckConstraint, Model, Q

from core.domain.errors import DomainError


def from_validation_error(problem: ValidationError) -> DomainError:
    """Convert a model's validation error to a domain error, field by field."""
    fields = dict(problem.message_dict) if hasattr(problem, "error_dict") else {}
    return DomainError("; ".join(problem.messages), code="invalid", fields=fields)


def validate(record: Model) -> None:
    """Do what `full_clean` does, with one query for all CHECK constraints together where it sends three for each.

    Raises
    ------
    ValidationError
        The same as from `full_clean`, with every problem.
    """
    try:
        record.full_clean(validate_constraints=False)
    except ValidationError:
        record.full_clean()
        raise
    validate_constraints(record)


def validate_constraints(record: Model) -> None:
    """Do what a record's own `validate_constraints` does, with one query for all CHECK constraints.

    Raises
    ------
    ValidationError
        The same as from Django's method, which is asked what is wrong once something is.
    """
    constraints = [(model, each) for model, several in record.get_constraints() for each in several]
    checks = [each.condition for _, each in constraints if isinstance(each, CheckConstraint)]
    values = record._get_field_expression_map(meta=record._meta)  # type: ignore[attr-defined]
    try:
        if checks and not Q(*checks).check(values):
            raise ValidationError("A CHECK constraint is violated.")
        for model, each in constraints:
            if not isinstance(each, CheckConstraint):
                each.validate(model, record)
    except ValidationError:
        record.validate_constraints()
        raise


def check(record: Any) -> None:
    """Have the model check all of a record, before it is saved."""
    try:
        validate(record)
    except ValidationError as problem:
        raise from_validation_error(problem) from problem


def check_fields(record: Any, *, but: set[str]) -> None:
    """Have the model check the columns alone, except for some: for many records without a query for each."""
    try:
        record.clean_fields(exclude=but)
    except ValidationError as problem:
        raise from_validation_error(problem) from problem
