"""The question about stop signs on a fitting's page."""

from __future__ import annotations

from typing import Any

from django import forms

from fittings.domain.fitting.stop_signs import STANDARD_SIGNS
from fittings.selectors.fitting.referral import current_referral_rules

NONE_OF_THESE = "none"


class StopSignsForm(forms.Form):
    """The stop signs of the rules in use. Nothing ticked means that nobody asked."""

    all_optional = True

    signs = forms.MultipleChoiceField(
        label="Does any of these apply?",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Ask, and tick what the customer says. Any of them needs a clinician first; you do not diagnose.",
    )
    advised = forms.BooleanField(label="I advised the customer to see a clinician.", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rules = current_referral_rules().rules
        field = self.fields["signs"]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101  declared so; for the type checker
        field.choices = [*self.rules.signs.items(), (NONE_OF_THESE, "None of these")]

    def clean_signs(self) -> list[str]:
        signs: list[str] = self.cleaned_data["signs"]
        if NONE_OF_THESE in signs and len(signs) > 1:
            raise forms.ValidationError("Tick either the signs that apply or “None of these”, not both.")
        return signs

    @property
    def sources(self) -> list[tuple[str, str]]:
        """Each source of the standard signs, with the signs that come from it."""
        by_source: dict[str, list[str]] = {}
        for sign in STANDARD_SIGNS:
            by_source.setdefault(sign.source, []).append(sign.words)
        own = [sign.words for sign in self.rules.own_signs]
        listed = [(source, "; ".join(words)) for source, words in by_source.items()]
        return [*listed, *([("added by the practice", "; ".join(own))] if own else [])]
