"""What every record passes before it is saved."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError

from core.database.validation import from_validation_error


def check(record: Any) -> None:
    """Let the model judge all of a record; what it refuses becomes a domain error."""
    try:
        record.full_clean()
    except ValidationError as problem:
        raise from_validation_error(problem) from problem


def check_fields(record: Any, *, but: set[str]) -> None:
    """Let the model judge the columns alone, but for some: many records at once are not asked for one by one."""
    try:
        record.clean_fields(exclude=but)
    except ValidationError as problem:
        raise from_validation_error(problem) from problem
