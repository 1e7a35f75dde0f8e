"""Forms of incidents and of stopping a rig: format and choices only; the rules are in the services."""

from __future__ import annotations

from typing import Any

from django import forms

from labtests.forms.bench_tests import REASON_LENGTH, ReasonForm
from labtests.models import CalibratedQuantity, IncidentEffect, Rig

PUBLIC_REASON = "Shown on the public pages of shoes that are withdrawn, and to the stores: name no person."
SINCE = "Tests made after this time are in doubt. Leave it out where nobody knows: then all of its tests are."


def time_field(label: str, **options: Any) -> forms.DateTimeField:
    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
    return forms.DateTimeField(label=label, widget=widget, **options)


class IncidentForm(forms.Form):
    """A quantity of a rig that was wrong for some time."""

    rig = forms.ModelChoiceField(label="Rig", queryset=Rig.objects.all(), to_field_name="code", empty_label="choose")
    quantity = forms.ChoiceField(label="Quantity that was wrong", choices=CalibratedQuantity.choices)
    begins_at = time_field("From", help_text="The first time at which it was wrong.")
    ends_at = time_field("To", help_text="The last time. Both ends are included.")
    effect = forms.ChoiceField(
        label="What happens to the tests",
        choices=IncidentEffect.choices,
        initial=IncidentEffect.DOUBT,
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="Why",
        max_length=REASON_LENGTH,
        help_text=PUBLIC_REASON,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class DecisionForm(ReasonForm):
    """Carrying out needs no further reason, dismissing does."""

    decision = forms.ChoiceField(
        choices=[("carry_out", "Carry it out"), ("dismiss", "Dismiss it: nothing was wrong")],
        label="Decision",
        widget=forms.RadioSelect,
    )
    field_order = ("decision", "reason")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        reason = self.fields["reason"]
        reason.required = False
        reason.help_text = "Needed to dismiss it. Left empty when you carry it out, the incident’s own reason is used."


class RigStopForm(forms.Form):
    """Since when a rig is in doubt, and why."""

    since = time_field("In doubt since", required=False, help_text=SINCE)
    reason = forms.CharField(
        label="Reason",
        max_length=REASON_LENGTH,
        help_text="Recorded in the audit trail.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class SinceForm(forms.Form):
    """Since when the tests of a rig are looked at before it is stopped."""

    since = time_field("In doubt since", required=False, help_text=SINCE)
