"""A new version of the referral rules."""

from __future__ import annotations

from typing import Any

from django import forms

from core.models import printable
from fittings.domain.fitting.referral_rules import OWN_SIGNS_MAX, OWN_WORDS_MAX, RANGES, own_signs_of
from fittings.domain.regions import REGIONS
from fittings.models import ReferralRules

NUMBERS = {
    "pain_now_from": "Pain now, from (0 to 10)",
    "pain_weeks_above": "It has hurt for more than, weeks",
    "answer_pain_from": "Pain in a follow-up’s answer, from (0 to 10)",
    "answer_days_off_from": "Days off in a follow-up’s answer, from",
    "look_after_days": "Such an answer is dealt with within, days",
}
REGIONS_LABEL = "Any pain now in these regions"
RECURRENCE_LABEL = "A complaint that came back"
OWN_LABEL = "Stop signs of the practice"


def _whole(name: str) -> forms.IntegerField:
    low, high = RANGES[name]
    return forms.IntegerField(
        label=NUMBERS[name],
        min_value=low,
        max_value=high,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )


class ReferralRulesForm(forms.Form):
    """Thresholds, regions and the practice's own stop signs. The standard stop signs are always asked."""

    version = forms.CharField(label="Version", max_length=20, validators=[printable], help_text="Such as R2.")
    pain_now_from = _whole("pain_now_from")
    pain_weeks_above = _whole("pain_weeks_above")
    pain_now_regions = forms.MultipleChoiceField(
        label=REGIONS_LABEL, required=False, choices=list(REGIONS.items()), widget=forms.CheckboxSelectMultiple
    )
    answer_pain_from = _whole("answer_pain_from")
    answer_days_off_from = _whole("answer_days_off_from")
    answer_on_recurrence = forms.BooleanField(label=RECURRENCE_LABEL, required=False)
    look_after_days = _whole("look_after_days")
    own_signs = forms.CharField(
        label=OWN_LABEL,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=(
            f"One per line, at most {OWN_SIGNS_MAX} of {OWN_WORDS_MAX} characters. They are asked after the standard "
            "ones, at fittings and on “Where to start”. Ask for what a customer can say; staff do not diagnose."
        ),
    )
    reason = forms.CharField(
        label="Why", max_length=500, widget=forms.Textarea, help_text="Recorded in the audit trail and with the rules."
    )

    def clean_version(self) -> str:
        version: str = self.cleaned_data["version"].strip()
        if ReferralRules.objects.filter(version=version).exists():
            raise forms.ValidationError(f"There are already referral rules {version}; choose another name.")
        return version

    def clean_own_signs(self) -> list[dict[str, str]]:
        try:
            signs = own_signs_of(str(self.cleaned_data["own_signs"]).splitlines())
        except ValueError as problem:
            raise forms.ValidationError(str(problem)) from problem
        return [{"code": sign.code, "words": sign.words} for sign in signs]

    def rules(self) -> dict[str, Any]:
        """The rules as the domain reads them, without the version."""
        given = self.cleaned_data
        return {name: given[name] for name in (*NUMBERS, "pain_now_regions", "answer_on_recurrence", "own_signs")}


def initial_of(stored: ReferralRules) -> dict[str, Any]:
    """The fields filled as a version has them, to begin a new one from."""
    own = "\n".join(sign["words"] for sign in stored.data.get("own_signs", ()))
    return {name: value for name, value in stored.data.items() if name != "version"} | {"own_signs": own}
