"""Forms for a letter to a clinician and for what the clinician replies."""

from __future__ import annotations

from django import forms

from fittings.domain.fitting.clinician_wishes import WISHES
from fittings.services.fitting.letter import NAME_MAX, TEXT_MAX, ReplyGiven


class LetterForm(forms.Form):
    """To whom, and what the fitter adds. What was seen, measured and advised is put in by itself."""

    addressee = forms.CharField(
        label="To", required=False, max_length=NAME_MAX, help_text="A name or a profession, if it is known."
    )
    remark = forms.CharField(
        label="What else the clinician should know",
        required=False,
        max_length=TEXT_MAX,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="What the customer said and what you saw. No diagnosis.",
    )
    submission = forms.UUIDField(widget=forms.HiddenInput)


class ReplyForm(forms.Form):
    """What a clinician asks for."""

    clinician = forms.CharField(label="Clinician", max_length=NAME_MAX, help_text="A name, or the profession.")
    received_on = forms.DateField(
        label="Received on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    wishes = forms.MultipleChoiceField(
        label="What the clinician asks for",
        choices=list(WISHES.items()),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick what the clinician asks for, or “no particular shoe”."},
    )
    note = forms.CharField(
        label="In the clinician’s words",
        required=False,
        max_length=TEXT_MAX,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    submission = forms.UUIDField(widget=forms.HiddenInput)

    def given(self) -> ReplyGiven:
        data = self.cleaned_data
        return ReplyGiven(data["clinician"], data["received_on"], data["wishes"], data["note"])
