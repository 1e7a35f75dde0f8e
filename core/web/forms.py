"""Shared by the forms of all apps: sentences of errors, showing the errors of a service, and asking for a reason."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django import forms
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.forms.boundfield import BoundField
from django.http import HttpRequest, QueryDict

from core.database.validation import from_validation_error
from core.domain.errors import DomainError
from core.domain.figures import grouped
from core.models import printable
from core.web.display import MINUS, day

REASON_MAX_LENGTH = 300


class SavedAtTheSameTime(DomainError):
    """Two people saved the same record at the same moment, or one person saved it twice."""

    def __init__(self) -> None:
        super().__init__("This was already saved a moment ago. Check the list before you try again.", code="conflict")


def sent(request: HttpRequest) -> QueryDict | None:
    """Return what a form was sent with, so that one sent empty is refused as well; None while it is only shown."""
    return request.POST if request.method == "POST" else None


def status_of(*shown: forms.BaseForm | None) -> int:
    """Return the HTTP status of a page with these forms, if they are there: 400 where one comes back with problems."""
    return 400 if any(form is not None and form.errors for form in shown) else 200


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


@dataclass(frozen=True, slots=True)
class FieldProblem:
    """An error of a field; `names_field` where the sentence itself says which field it is."""

    text: str
    names_field: bool


# By code: how Django's own sentence begins, and ours in its place; `label` is the field's.
_PLAINER = {
    "max_length": ("Ensure this value", "Write at most {limit_value} characters; these are {show_value}."),
    "min_length": ("Ensure this value", "Write at least {limit_value} characters."),
    "min_value": ("Ensure this value", "Write {limit_value} or more."),
    "max_value": ("Ensure this value", "Write {limit_value} or less."),
    "max_digits": ("Ensure that", "Digits: at most {max}."),
    "max_decimal_places": ("Ensure that", "Digits after the decimal point: at most {max}."),
    "max_whole_digits": ("Ensure that", "Digits before the decimal point: at most {max}."),
    "null_characters_not_allowed": ("Null characters", "Remove the characters that cannot be seen; type the text."),
    "invalid_choice": ("Select a valid choice", "This is not one of the choices of “{label}”. Choose another."),
}

# Django's sentences that do not say how a value is written, and ours, which do.
_WITH_EXAMPLE = {
    "Enter a number.": "Enter a number with a decimal point, such as 12.5.",
    "Enter a whole number.": "Enter a whole number, such as 12.",
    "Enter a valid date.": "Enter a valid date: year, month and day, such as 2026-03-04.",
    "Enter a valid date/time.": "Enter a valid date/time: year, month, day and time, such as 2026-03-04 10:15.",
    "Enter a valid email address.": "Enter a valid e-mail address, such as name@example.org.",
}


def check_days(form: forms.Form) -> None:
    """Refuse a last day (`until`) that is before the first (`since`)."""
    since, until = form.cleaned_data.get("since"), form.cleaned_data.get("until")
    if since and until and since > until:
        form.add_error("until", f"This is before the first day, {day(since)}. Give a later day, or leave it out.")


def field_problems(field: BoundField) -> list[FieldProblem]:
    """Return the errors of a field, with our sentence where Django's says too little or says it stiffly."""
    return [_field_problem(field, error) for error in field.errors.as_data()]


def _field_problem(field: BoundField, error: ValidationError) -> FieldProblem:
    text = error.messages[0]
    if error.code == "required" and text == forms.Field.default_error_messages["required"]:
        return FieldProblem(_what_to_fill_in(field), names_field=True)
    beginning, sentence = _PLAINER.get(error.code or "", ("", ""))
    if sentence and text.startswith(beginning):
        limits = {name: _shown(value) for name, value in (error.params or {}).items()}
        text = sentence.format(**{"label": _label(field)} | limits)
        return FieldProblem(text, names_field=error.code == "invalid_choice")
    return FieldProblem(_WITH_EXAMPLE.get(text, text), names_field=field.widget_type == "checkbox")


def _shown(limit: object) -> str:
    text = grouped(f"{limit:.15g}" if isinstance(limit, float) else str(limit))
    return text.replace("-", MINUS, 1) if text.startswith("-") else text


def _label(field: BoundField) -> str:
    return str(field.label).removesuffix(".")


def _what_to_fill_in(field: BoundField) -> str:
    label, widget = _label(field), field.field.widget
    if label.endswith("?"):
        return f"Answer “{label}”."
    if isinstance(widget, forms.FileInput):
        return f"Choose a file for “{label}”."
    if isinstance(widget, forms.CheckboxInput):
        return f"Tick “{label}”."
    return f"Choose from “{label}”." if isinstance(widget, forms.widgets.ChoiceWidget) else f"Fill in “{label}”."


class ReasonForm(forms.Form):
    reason = forms.CharField(
        label="Reason", max_length=REASON_MAX_LENGTH, validators=[printable], help_text="Recorded in the audit trail."
    )
