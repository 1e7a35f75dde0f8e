"""Forms around "Where to start": the code that a fitter opens, and a fitting that a visitor asks for."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from catalogue.selectors.public.stores import store_names
from core.models import printable
from fittings.domain.people.consent import REQUEST_CONSENT_TEXT
from fittings.models import RequestState
from fittings.models.people.requests import NAME_MAX_LENGTH, REACH_MAX_LENGTH
from fittings.services.people.requests import reach_problem
from fittings.services.people.start_code import TEXT_MAX_LENGTH


class StartCodeForm(forms.Form):
    """A code that was scanned or pasted."""

    code = forms.CharField(
        label="Code",
        max_length=TEXT_MAX_LENGTH,
        help_text="Scan the customer’s code with the camera of this device, or paste it here.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
        error_messages={"required": "Scan or paste the code."},
    )


class AskForm(forms.Form):
    """Who asks for a fitting, how to reach them, on which day. Nothing about health."""

    store = forms.ChoiceField(label="Store")
    name = forms.CharField(
        label="Your name",
        max_length=NAME_MAX_LENGTH,
        validators=[printable],
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    reach = forms.CharField(
        label="E-mail address or telephone",
        max_length=REACH_MAX_LENGTH,
        validators=[printable],
        widget=forms.TextInput(attrs={"autocomplete": "on", "spellcheck": "false"}),
    )
    wish_day = forms.DateField(
        label="Day you would like",
        help_text="The store will reply; no day is booked until it has.",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Write the day as year, month and day, such as 2026-03-14."},
    )
    consent = forms.BooleanField(
        label=REQUEST_CONSENT_TEXT,
        error_messages={"required": "Tick this if the store may save your name and contact details."},
    )
    # Seen by nobody; programs that fill in every field fill it in too.
    website = forms.CharField(required=False, max_length=200)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        choices = [("", "choose a store"), *store_names().items()]
        self.fields["store"].choices = choices  # type: ignore[attr-defined]
        self.fields["wish_day"].widget.attrs["min"] = timezone.localdate().isoformat()

    @property
    def is_from_a_robot(self) -> bool:
        return bool(self.data.get("website"))

    def clean_reach(self) -> str:
        """An e-mail address, or a telephone number by its digits."""
        reach: str = self.cleaned_data["reach"].strip()
        if problem := reach_problem(reach):
            raise ValidationError(problem)
        return reach


class CloseRequestForm(forms.Form):
    """What became of a request."""

    outcome = forms.ChoiceField(choices=[(RequestState.DONE, "done"), (RequestState.CLOSED, "closed")])
