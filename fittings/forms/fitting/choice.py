"""Forms of trying on, choosing and taking a choice back, on the page of a recorded fitting."""

from __future__ import annotations

from typing import Any

from django import forms

from catalogue.domain.sizes import SIZE_EXAMPLES, SIZE_MAX_LENGTH
from catalogue.models import WIDTH_MAX_LENGTH
from fittings.forms.fields import ZERO_TO_TEN, ShoeNameField, pick_field
from fittings.selectors.fitting.shoe_names import shoes_by_text
from fittings.services.fitting.choice import REASON_MAX

WIDTH_HELP = "Only where the shoe is made in several, as the maker writes it: D, 2E."


class TryOnForm(forms.Form):
    """A shoe tried on, in a size, with its comfort."""

    slug = ShoeNameField(label="Shoe")
    size = forms.CharField(
        label="Size",
        max_length=SIZE_MAX_LENGTH,
        help_text=f"{SIZE_EXAMPLES}. Sizes other than EU are converted to the nearest half EU size, approximately.",
    )
    comfort = pick_field("Comfort", [("", "not said"), *ZERO_TO_TEN], widget=forms.Select, help_text="10 is best.")

    def clean_slug(self) -> str:
        """Return the shoe that was named; what is not one shoe is refused with the names that match."""
        text: str = self.cleaned_data["slug"]
        if not text:
            return ""
        named = shoes_by_text([text])[text]
        if named.problem:
            raise forms.ValidationError(named.problem)
        return named.slug


class ChoiceForm(TryOnForm):
    """The shoe chosen."""

    width = forms.CharField(label="Width", required=False, max_length=WIDTH_MAX_LENGTH, help_text=WIDTH_HELP)
    reason = forms.CharField(
        label="Why this one?",
        required=False,
        max_length=REASON_MAX,
        help_text="Needed if the shoe is outside the target.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    field_order = ("slug", "size", "width", "comfort", "reason")


class CorrectionForm(TryOnForm):
    """Why a choice is taken back, and the shoe that takes its place; left out, there is none."""

    kind = forms.ChoiceField(
        label="What happened?",
        choices=[
            ("mistake", "Recorded by mistake: another shoe or size was chosen"),
            ("exchange", "Exchanged for another shoe or size"),
            ("return", "Returned"),
            ("fault", "Faulty"),
        ],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="Why?",
        max_length=REASON_MAX,
        help_text="The lab reads what is wrong with a faulty pair: write about the shoe, not about the customer.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    width = forms.CharField(label="Width", required=False, max_length=WIDTH_MAX_LENGTH, help_text=WIDTH_HELP)
    restock = forms.BooleanField(label="The pair that comes back can be sold again", required=False, initial=False)
    field_order = ("kind", "reason", "slug", "size", "width", "comfort", "restock")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["slug"].label = "New shoe"
        self.fields["slug"].help_text = "Leave shoe and size empty where a pair came back and no new one was taken."
        self.fields["slug"].required = self.fields["size"].required = False
