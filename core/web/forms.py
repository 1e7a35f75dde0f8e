"""Shared by the forms of all apps: showing the errors of a service, and asking for a reason."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django import forms
from django.core.exceptions import ValidationError
from django.db import IntegrityError

from core.database.validation import from_validation_error
from core.domain.errors import DomainError
from core.models import printable

REASON_MAX_LENGTH = 300


class SavedAtTheSameTime(DomainError):
    """Two people saved the same record at the same moment, or one person saved it twice."""

    def __init__(self) -> None:
        super().__init__("This was already saved a moment ago. Check the list before you try again.", code="conflict")


@contextmanager
def problems_in(form: forms.BaseForm) -> Iterator[None]:
    """Show the errors that a service raises inside the block on a form."""
    try:
        yield
    except (DomainError, ValidationError, IntegrityError) as problem:
        add_problem(form, _as_domain_error(problem))


def _as_domain_error(problem: Exception) -> DomainError:
    if isinstance(problem, ValidationError):
        return from_validation_error(problem)
    return problem if isinstance(problem, DomainError) else SavedAtTheSameTime()


def add_problem(form: forms.BaseForm, problem: DomainError) -> None:
    """Add each message of an error to the field that it names, or to the whole form."""
    for name, sentences in problem.fields.items():
        form.add_error(name if name in form.fields else None, list(sentences))
    if not problem.fields:
        form.add_error(None, problem.message)


class ReasonForm(forms.Form):
    reason = forms.CharField(
        label="Reason", max_length=REASON_MAX_LENGTH, validators=[printable], help_text="Recorded in the audit trail."
    )
