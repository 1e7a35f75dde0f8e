"""Expected failures: a message for people, a code for machines."""

from __future__ import annotations

from django.core.exceptions import ValidationError


class DomainError(Exception):
    """A rule of the practice was not met. Nothing was changed.

    Parameters
    ----------
    message : what is wrong, where, and how to mend it
    code : a stable word for programs
    status : the HTTP status it becomes: 400, 403, 404, 409 or 413
    fields : messages by field of the input
    """

    def __init__(
        self, message: str, *, code: str = "invalid", status: int = 400, fields: dict[str, list[str]] | None = None
    ) -> None:
        super().__init__(message)
        self.message = message
        self.code = code
        self.status = status
        self.fields = fields or {}


def from_validation_error(problem: ValidationError) -> DomainError:
    """Turn a model's complaint into a domain error, field by field."""
    fields = dict(problem.message_dict) if hasattr(problem, "error_dict") else {}
    return DomainError("; ".join(problem.messages), code="invalid", fields=fields)
