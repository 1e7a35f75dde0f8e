"""What forms of every app share: showing what a service refused, and asking for a reason."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django import forms
from django.core.exceptions import ValidationError
from django.db import IntegrityError

from core.database.validation import from_validation_error
from core.domain.errors import DomainError
from core.models import printable

REASON_MOST = 300


class RefusedBySomebodyElse(DomainError):
    """Two people saved the same at the same moment, or one person twice."""

    def __init__(self) -> None:
        super().__init__("The same was saved a moment ago. Look at the list before you try again.", code="conflict")


@contextmanager
def problems_in(form: forms.BaseForm) -> Iterator[None]:
    """Show on a form what a service refuses inside the block."""
    try:
        yield
    except (DomainError, ValidationError, IntegrityError) as problem:
        add_problem(form, _as_domain_error(problem))


def _as_domain_error(problem: Exception) -> DomainError:
    if isinstance(problem, ValidationError):
        return from_validation_error(problem)
    return problem if isinstance(problem, DomainError) else RefusedBySomebodyElse()


def add_problem(form: forms.BaseForm, problem: DomainError) -> None:
    """Put each sentence of a refusal beside the field that it names, or above the form."""
    for name, sentences in problem.fields.items():
        form.add_error(name if name in form.fields else None, list(sentences))
    if not problem.fields:
        form.add_error(None, problem.message)


class ReasonForm(forms.Form):
    reason = forms.CharField(
        label="Why", max_length=REASON_MOST, validators=[printable], help_text="Kept in the audit trail."
    )
