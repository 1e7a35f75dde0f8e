"""The sections of a fitting's page: what can be entered in each, and what of it is stored."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.conf import settings
from django.utils import timezone

from core.models import printable
from fittings.domain.fitting.intake import CustomerIntake
from fittings.domain.fitting.need import USES
from fittings.domain.regions import Complaint
from fittings.domain.shoes.insoles import INSOLES
from fittings.domain.shoes.sizing import SIZE_SYSTEMS
from fittings.forms.fields import (
    REGION_CHOICES,
    SIDE_CHOICES,
    ZERO_TO_TEN,
    ShoeNameField,
    number_field,
    pick_field,
    whole_field,
)
from fittings.forms.fitting.looks import LooksSection
from fittings.forms.fitting.observation import ObservationSection
from fittings.forms.fitting.section import Section, SectionForm
from fittings.forms.fitting.stop_signs import NONE_OF_THESE, StopSignsForm
from fittings.forms.fitting.try_ons import ChoiceSection, TryOnsSection
from fittings.models import SectionName
from fittings.selectors.fitting.shoe_names import shoe_of_title
from fittings.services.fitting.checks import NAME_MAX, PHONE, PHONE_MAX

HISTORY_ROWS = 4
KNOWN_MAX = 2**53


class PersonForm(SectionForm):
    """Who it is, and whether the fitting may be saved."""

    known = forms.IntegerField(required=False, min_value=1, max_value=KNOWN_MAX, widget=forms.HiddenInput)
    name = forms.CharField(
        label="Name", required=False, max_length=NAME_MAX, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    email = forms.EmailField(
        label="E-mail, for the follow-ups",
        required=False,
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
    under_age = forms.BooleanField(label=f"Under {settings.AGE_OF_CONSENT} years old", required=False)
    guardian = forms.CharField(
        label="Parent or guardian who agrees",
        required=False,
        max_length=NAME_MAX,
        validators=[printable],
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def clean_phone(self) -> str:
        phone: str = self.cleaned_data["phone"]
        if phone and not PHONE.fullmatch(phone):
            raise forms.ValidationError("Write the telephone number with only digits, spaces and + - / ( ).")
        return phone

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        wants_name = cleaned.get("consent") == "yes" and not cleaned.get("known")
        if wants_name and not cleaned.get("name") and "name" not in self.errors:
            self.add_error("name", "Give a name, so that you can find the fitting again.")
        agrees = cleaned.get("consent") == "yes" and cleaned.get("under_age")
        if agrees and not cleaned.get("guardian") and "guardian" not in self.errors:
            self.add_error("guardian", "Name the parent or guardian who agrees.")
        return cleaned

    def person(self) -> CustomerIntake:
        data = self.cleaned_data
        name, email, phone, guardian = (data.get(key) or "" for key in ("name", "email", "phone", "guardian"))
        agreed, under_age = data.get("consent") == "yes", bool(data.get("under_age"))
        return CustomerIntake(name, email, agreed, phone, under_age, guardian if under_age else "")


class IntakeForm(SectionForm):
    """Use, body mass, distance, pain, and what is worn now."""

    use = forms.ChoiceField(label="Shoes for", required=False, choices=list(USES.items()), widget=forms.RadioSelect)
    body_mass_kg = number_field("Body mass", "body_mass_kg", kind="body_mass")
    distance_km_week = number_field("Distance a week", "distance_km_week", kind="distance")
    current_shoe = ShoeNameField(label="Shoe worn now", required=False)
    insole = forms.ChoiceField(
        label="Worn in the shoe",
        required=False,
        choices=[("", "not asked"), *INSOLES.items()],
        widget=forms.RadioSelect,
    )
    cushioning = forms.ChoiceField(
        label="How soft should it feel?",
        required=False,
        choices=[("", "no wish"), ("more", "softer"), ("less", "firmer")],
        widget=forms.RadioSelect,
    )
    pain_now = pick_field("Pain now", [("", "not asked"), *ZERO_TO_TEN], help_text="0 none, 10 the worst there is.")
    pain_weeks = whole_field("Weeks of pain", "pain_weeks")


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


class FootForm(SectionForm):
    length_mm = number_field("Length", "length_mm", kind="length")
    width_mm = number_field("Width", "width_mm", kind="length")


class SizeSystemForm(SectionForm):
    """In which system the customer says sizes."""

    size_system = forms.ChoiceField(
        label="Sizes in", required=False, choices=[("", "as the store"), *SIZE_SYSTEMS.items()]
    )


class PersonSection(Section):
    name = SectionName.PERSON

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.person = PersonForm(data, prefix="person")
        return [self.person]


class IntakeSection(Section):
    name = SectionName.INTAKE

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.intake = IntakeForm(data, prefix="intake")
        self.history = [HistoryForm(data, prefix=f"history-{row}") for row in range(HISTORY_ROWS)]
        return [self.intake, *self.history]

    def check(self) -> bool:
        valid = super().check()
        text = self.intake.cleaned_data.get("current_shoe")
        named = shoe_of_title(text) if text else None
        self.intake.cleaned_data |= {"current_shoe": named.slug if named else "", "current_shoe_text": ""}
        if named:
            field = self.intake.fields["current_shoe"]
            assert isinstance(field, ShoeNameField)  # noqa: S101  declared so; for the type checker
            field.titles = {named.slug: named.title}
        elif text:
            self.intake.cleaned_data["current_shoe_text"] = text
        return valid

    @property
    def is_worn_unknown(self) -> bool:
        """Whether the shoe worn now was written and is not in the catalogue."""
        return self._in_order is not None and bool(self.intake.cleaned_data.get("current_shoe_text"))

    def complaints(self) -> tuple[Complaint, ...]:
        return tuple(item for item in (form.complaint() for form in self.history) if item is not None)


class StopSignsSection(Section):
    name = SectionName.STOP_SIGNS

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.stop = StopSignsForm(data, prefix="stop")
        return [self.stop]

    def signs(self) -> tuple[str, ...]:
        return tuple(sign for sign in self.stop.cleaned_data.get("signs") or () if sign != NONE_OF_THESE)

    def clinician_advised(self) -> bool | None:
        """Whether the customer was advised to see a clinician; None where no sign asks for it."""
        return bool(self.stop.cleaned_data.get("advised")) if self.signs() else None

    def is_answered(self) -> bool:
        """Whether a sign or “None of these” is ticked; untouched, the question was not asked."""
        return bool(self.stop.cleaned_data.get("signs"))


class FeetSection(Section):
    name = SectionName.FEET

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.left, self.right = FootForm(data, prefix="foot-left"), FootForm(data, prefix="foot-right")
        self.sizes = SizeSystemForm(data, prefix="foot")
        return [self.left, self.right, self.sizes]


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
