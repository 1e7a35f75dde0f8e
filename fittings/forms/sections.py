"""The sections of a fitting's page: what can be entered in each, and what of it is stored."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.utils import timezone

from catalogue.domain.sizes import SIZE_MAX_LENGTH
from catalogue.models import ScoreCard, Shoe
from fittings.domain.fitting.intake import CustomerIntake
from fittings.domain.fitting.need import USES
from fittings.domain.fitting.regions import Complaint
from fittings.domain.fitting.sizing import read_eu_size
from fittings.domain.fitting.stop_signs import STOP_SIGNS
from fittings.forms.fields import (
    REGION_CHOICES,
    SHOE_LIST,
    SIDE_CHOICES,
    TRY_ROWS,
    ZERO_TO_TEN,
    number_field,
    pick_field,
)
from fittings.forms.looks import LooksSection
from fittings.forms.observation import ObservationSection
from fittings.forms.section_base import Section, SectionForm
from fittings.models import SectionName
from fittings.services.checks import NAME_MAX, PHONE, PHONE_MAX
from fittings.services.choice import REASON_MAX

HISTORY_ROWS = 4
KNOWN_MAX = 2**53
NONE_OF_THESE = "none"


class PersonForm(SectionForm):
    """Who it is, and whether the fitting may be saved."""

    known = forms.IntegerField(required=False, min_value=1, max_value=KNOWN_MAX, widget=forms.HiddenInput)
    name = forms.CharField(
        label="Name", required=False, max_length=NAME_MAX, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    email = forms.EmailField(
        label="E-mail address",
        required=False,
        help_text="For the follow-ups.",
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )
    phone = forms.CharField(
        label="Telephone",
        required=False,
        max_length=PHONE_MAX,
        widget=forms.TextInput(attrs={"inputmode": "tel", "autocomplete": "off"}),
    )
    consent = forms.ChoiceField(
        label="Does the customer agree to have this fitting stored?",
        required=False,
        choices=[("yes", "Yes, store it"), ("no", "No, store nothing")],
        widget=forms.RadioSelect,
    )

    def clean_phone(self) -> str:
        phone: str = self.cleaned_data["phone"]
        if phone and not PHONE.fullmatch(phone):
            raise forms.ValidationError("Write the telephone number with digits, spaces and + - / ( ) alone.")
        return phone

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        wants_name = cleaned.get("consent") == "yes" and not cleaned.get("known")
        if wants_name and not cleaned.get("name") and "name" not in self.errors:
            self.add_error("name", "Give a name, so that you can find the fitting again.")
        return cleaned

    def person(self) -> CustomerIntake:
        data = self.cleaned_data
        name, email, phone = (data.get(key) or "" for key in ("name", "email", "phone"))
        return CustomerIntake(name, email, data.get("consent") == "yes", phone)


class IntakeForm(SectionForm):
    """Use, body mass, distance, pain, and what is worn now."""

    use = forms.ChoiceField(label="Shoes for", choices=list(USES.items()), widget=forms.RadioSelect)
    body_mass_kg = number_field("Body mass", "body_mass_kg")
    distance_km_week = number_field("Distance a week", "distance_km_week")
    current_shoe = forms.CharField(
        label="Shoe worn now",
        required=False,
        max_length=80,
        help_text="Leave blank if it is not in the catalogue.",
        widget=forms.TextInput(attrs=SHOE_LIST),
    )
    cushioning = forms.ChoiceField(
        label="How soft should it feel?",
        required=False,
        choices=[("", "no wish"), ("more", "softer"), ("less", "firmer")],
        widget=forms.RadioSelect,
    )
    pain_now = pick_field("Pain now", [("", "not asked"), *ZERO_TO_TEN], help_text="0 none, 10 the worst there is.")


class HistoryForm(SectionForm):
    """One complaint; a row without a region is empty."""

    region = forms.ChoiceField(label="Where", required=False, choices=REGION_CHOICES)
    side = forms.ChoiceField(label="Side", required=False, choices=SIDE_CHOICES)
    state = forms.ChoiceField(label="Is it there now?", required=False, choices=[("past", "no"), ("now", "yes, now")])
    settled_on = forms.DateField(
        label="Settled on", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        settled_on = cleaned.get("settled_on")
        if settled_on and not cleaned.get("region") and "region" not in self.errors:
            self.add_error("region", "Say where the complaint was, or leave the date out.")
        if settled_on and cleaned.get("state") == "now":
            self.add_error("settled_on", "A complaint that is there now has not settled; leave the date out.")
        elif settled_on and settled_on > timezone.localdate():
            self.add_error("settled_on", "This date is in the future. Enter the date from which it no longer hurt.")
        return cleaned

    def complaint(self) -> Complaint | None:
        data = self.cleaned_data
        if not data.get("region"):
            return None
        return Complaint(data["region"], data.get("side") or None, data.get("state") == "now", data.get("settled_on"))


class StopSignsForm(SectionForm):
    signs = forms.MultipleChoiceField(
        label="Does any of these apply?",
        required=False,
        choices=[*STOP_SIGNS.items(), (NONE_OF_THESE, "None of these")],
        widget=forms.CheckboxSelectMultiple,
        help_text="Any of them needs a clinician first. A shoe can still be chosen, but not as treatment.",
    )

    def clean_signs(self) -> list[str]:
        signs: list[str] = self.cleaned_data["signs"]
        if NONE_OF_THESE in signs and len(signs) > 1:
            raise forms.ValidationError("Tick either the signs that apply or “None of these”, not both.")
        return signs


class FootForm(SectionForm):
    length_mm = number_field("Length", "length_mm")
    width_mm = number_field("Width", "width_mm")


class TriedForm(SectionForm):
    """A shoe tried on; a row without a shoe is empty."""

    slug = forms.CharField(label="Shoe", required=False, max_length=80, widget=forms.TextInput(attrs=SHOE_LIST))
    size = forms.CharField(label="Size", required=False, max_length=SIZE_MAX_LENGTH)
    comfort = pick_field("Comfort, 10 is best", [("", "–"), *ZERO_TO_TEN])


class ChosenForm(SectionForm):
    """Which of the shoes tried on; the places are those of the rows above."""

    place = forms.ChoiceField(
        label="Which one?",
        required=False,
        choices=[("", "none yet"), *((str(row), f"number {row + 1}") for row in range(TRY_ROWS))],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="Why this one?",
        required=False,
        max_length=REASON_MAX,
        help_text="Required if the shoe is outside the target.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class PersonSection(Section):
    name = SectionName.PERSON

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.person = PersonForm(data, prefix="person")
        return [self.person]


class IntakeSection(Section):
    name = SectionName.INTAKE
    defaults: ClassVar[Mapping[str, str]] = {"intake-use": "running"}

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.intake = IntakeForm(data, prefix="intake")
        self.history = [HistoryForm(data, prefix=f"history-{row}") for row in range(HISTORY_ROWS)]
        return [self.intake, *self.history]

    def check(self) -> bool:
        valid = super().check()
        slug = self.intake.cleaned_data.get("current_shoe")
        if not slug or Shoe.objects.filter(slug=slug).exists():
            return valid
        words = f"There is no shoe {slug!r} in the catalogue. Leave it out; the lab or head office can add it."
        self.intake.add_error("current_shoe", words)
        return False

    def complaints(self) -> tuple[Complaint, ...]:
        return tuple(item for item in (form.complaint() for form in self.history) if item is not None)


class StopSignsSection(Section):
    name = SectionName.STOP_SIGNS

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.stop = StopSignsForm(data, prefix="stop")
        return [self.stop]

    def signs(self) -> tuple[str, ...]:
        return tuple(sign for sign in self.stop.cleaned_data.get("signs") or () if sign != NONE_OF_THESE)

    def is_answered(self) -> bool:
        """Whether a sign or “None of these” is ticked; untouched, the question was not asked."""
        return bool(self.stop.cleaned_data.get("signs"))


class FeetSection(Section):
    name = SectionName.FEET

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.left, self.right = FootForm(data, prefix="foot-left"), FootForm(data, prefix="foot-right")
        return [self.left, self.right]


class TryOnsSection(Section):
    name = SectionName.TRY_ONS

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.rows = [TriedForm(data, prefix=f"try-{row}") for row in range(TRY_ROWS)]
        self.cards: dict[str, ScoreCard] = {}
        return self.rows

    def check(self) -> bool:
        super().check()
        slugs = {form.cleaned_data["slug"] for form in self.rows if form.cleaned_data.get("slug")}
        if slugs:
            cards = ScoreCard.objects.filter(shoe__slug__in=slugs, is_current=True).select_related("shoe__brand")
            self.cards = {card.shoe.slug: card for card in cards}
        taken: set[tuple[str, Decimal]] = set()
        for form in self.rows:
            self._check_row(form, taken)
        return not any(form.errors for form in self.rows)

    def _check_row(self, form: TriedForm, taken: set[tuple[str, Decimal]]) -> None:
        slug, size = form.cleaned_data.get("slug"), form.cleaned_data.get("size")
        if not slug:
            if "slug" not in form.errors and (size or form.cleaned_data.get("comfort") is not None):
                form.add_error("slug", "Say which shoe it was, or clear the row.")
            return
        if slug not in self.cards:
            form.add_error("slug", f"There is no published shoe {slug!r}. Pick one from the list, or ask for the shoe.")
        try:
            size_eu = read_eu_size(size or "")
        except ValueError as problem:
            form.add_error("size", str(problem))
            return
        if (slug, size_eu) in taken:
            form.add_error("slug", "This shoe is already in another row in this size.")
        taken.add((slug, size_eu))

    def shoe_name(self, slug: str) -> str:
        card = self.cards.get(slug)
        return f"{card.shoe.brand.name} {card.shoe.title}" if card else slug

    def filled(self) -> dict[int, TriedForm]:
        """The rows that name a shoe, by their number, those in order alone."""
        return {
            row: form
            for row, form in enumerate(self.rows)
            if not form.errors and form.cleaned_data.get("slug") in self.cards
        }


class ChoiceSection(Section):
    name = SectionName.CHOICE

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.choice = ChosenForm(data, prefix="choice")
        return [self.choice]


SECTIONS: dict[str, type[Section]] = {
    kind.name.value: kind
    for kind in (
        PersonSection,
        IntakeSection,
        StopSignsSection,
        ObservationSection,
        FeetSection,
        TryOnsSection,
        LooksSection,
        ChoiceSection,
    )
}
"""The sections by name, in the order of the page."""
