"""Refusals that several services and pages give in the same words."""

from __future__ import annotations

from core.domain.errors import DomainError


def not_here(what: str) -> DomainError:
    """Say that a record does not exist for these stores; it may be another store's, which nobody is to learn."""
    return DomainError(f"This {what} does not exist, or it belongs to another store.", code="not_found", status=404)


def not_your_store() -> DomainError:
    message = "This store does not exist, or you have no role there."
    return DomainError(message, code="not_found", status=404, fields={"store": [message]})


def submission_used() -> DomainError:
    """Say that the key of a form was sent with something else before."""
    return DomainError(
        "This form was already sent. Reload the page to fill in a new one.", code="submission_used", status=409
    )
