"""Forms of answers that need attention."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fittings.forms.fitting.stop_signs import NONE_OF_THESE
from fittings.models import ConcernOutcome
from fittings.services.people.concern import NOTE_MAX


class CloseForm(forms.Form):
    """How looking after an answer ended, and what was done."""

    outcome = forms.ChoiceField(
        label="How did it end?",
        choices=ConcernOutcome.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose how it ended."},
    )
    note = forms.CharField(
        label="What was done",
        max_length=NOTE_MAX,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Who was reached, what was said and agreed. No diagnosis.",
        error_messages={"required": "Say what was done."},
    )


class SignsForm(forms.Form):
    """The stop signs, as a customer is asked after a worrying answer."""

    signs = forms.MultipleChoiceField(
        label="Does any of this apply to you now?",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick what applies, or “none of these”."},
    )

    def __init__(self, *args: Any, signs: Mapping[str, str], **options: Any) -> None:
        super().__init__(*args, **options)
        field = self.fields["signs"]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101  declared so; for the type checker
        field.choices = [*signs.items(), (NONE_OF_THESE, "none of these")]

    def clean_signs(self) -> list[str]:
        signs: list[str] = self.cleaned_data["signs"]
        if NONE_OF_THESE in signs and len(signs) > 1:
            raise ValidationError("Tick what applies or “none of these”, not both.")
        return [code for code in signs if code != NONE_OF_THESE]
