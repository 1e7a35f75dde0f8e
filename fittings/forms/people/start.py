"""What a visitor says of themselves on the public page "Where to start". Nothing of it is stored."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from catalogue.domain.sizes import SIZE_EXAMPLES, SIZE_MAX_LENGTH, ReadSize, size_read
from core.domain.units import from_si, to_si
from core.web.display import STYLES
from fittings.domain.fitting.need import GRADE_WORDS, USES, ObservedFoot, Person
from fittings.domain.regions import REGIONS, Complaint
from fittings.forms.fields import MeasureField

NONE_OF_THESE = "none"
PLACES = ("heel", "inner_shin", "front_of_knee")
PAST, NOW = "past", "now"
WENT = {"well": "well", "badly": "badly: it hurt, or I felt unsteady"}
NAME_MOST = 80


class UnitField(MeasureField):
    """A number in the reader's unit, which becomes one in the stored unit."""

    def __init__(self, label: str, limits: str, *, kind: str, units: str) -> None:
        super().__init__(label, limits)
        self.style = STYLES[kind][units]
        self.low, self.high = math.ceil(self._shown(self.low)), math.floor(self._shown(self.high))
        self.wanted = f"Write a number from {self.low} to {self.high} {self.style.sign}."
        self.error_messages["invalid"] = self.wanted

    def _shown(self, stored: float) -> float:
        quantity = self.style.quantity
        return from_si(to_si(stored, self.style.stored_unit, quantity=quantity), self.style.unit, quantity=quantity)

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        shown = super().to_python(value)
        if shown is None:
            return None
        quantity = self.style.quantity
        return from_si(to_si(shown, self.style.unit, quantity=quantity), self.style.stored_unit, quantity=quantity)


class StartForm(forms.Form):
    """The questions in the order in which they matter: what a clinician should see comes first."""

    all_optional = True

    signs = forms.MultipleChoiceField(
        label="Does any of this apply to you now?",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick what applies, or “none of these”."},
    )
    use = forms.ChoiceField(
        label="What are the shoes for?",
        choices=list(USES.items()),
        initial="running",
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what the shoes are for."},
    )
    roll = forms.TypedChoiceField(
        label="How far do your feet roll inwards when you walk?",
        required=False,
        choices=[("", "nobody has looked"), *((str(grade), word) for grade, word in enumerate(GRADE_WORDS))],
        coerce=int,
        empty_value=None,
        widget=forms.RadioSelect,
        help_text="Only if somebody watched you and said so. A worn sole does not show it.",
    )
    hurt = forms.ChoiceField(
        label="Where has it hurt?",
        required=False,
        choices=[("", "not in these places"), *((code, REGIONS[code]) for code in PLACES)],
        widget=forms.RadioSelect,
    )
    hurts = forms.ChoiceField(
        label="Does it still hurt?",
        required=False,
        choices=[(PAST, "no, it is gone"), (NOW, "yes, now")],
        widget=forms.RadioSelect,
    )
    worn = forms.CharField(
        label="Shoe you wear now",
        required=False,
        max_length=NAME_MOST,
        help_text="Brand and name.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    went = forms.ChoiceField(
        label="How did it go?", required=False, choices=[("", "can’t say"), *WENT.items()], widget=forms.RadioSelect
    )
    size = forms.CharField(
        label="Your size", required=False, max_length=SIZE_MAX_LENGTH, help_text=f"Such as {SIZE_EXAMPLES}."
    )
    field_order = ("signs", "use", "body_mass_kg", "distance_km_week", "roll", "hurt", "hurts", "worn", "went", "size")

    def __init__(self, *args: Any, units: str, signs: Mapping[str, str], **options: Any) -> None:
        super().__init__(*args, **options)
        asked = self.fields["signs"]
        assert isinstance(asked, forms.MultipleChoiceField)  # noqa: S101  declared so; for the type checker
        asked.choices = [*signs.items(), (NONE_OF_THESE, "none of these")]
        self.fields["body_mass_kg"] = UnitField("Body mass", "body_mass_kg", kind="body_mass", units=units)
        self.fields["distance_km_week"] = UnitField("Distance a week", "distance_km_week", kind="distance", units=units)
        self.order_fields(self.field_order)

    @property
    def mass_unit(self) -> str:
        return self._sign("body_mass_kg")

    @property
    def distance_unit(self) -> str:
        return self._sign("distance_km_week")

    def _sign(self, name: str) -> str:
        field = self.fields[name]
        return field.style.sign if isinstance(field, UnitField) else ""

    def clean_signs(self) -> list[str]:
        signs: list[str] = self.cleaned_data["signs"]
        if NONE_OF_THESE in signs and len(signs) > 1:
            raise ValidationError("Tick what applies or “none of these”, not both.")
        return [code for code in signs if code != NONE_OF_THESE]

    def clean_size(self) -> ReadSize | None:
        text = self.cleaned_data["size"].strip()
        if not text:
            return None
        try:
            return size_read(text)
        except ValueError as problem:
            raise ValidationError(str(problem)) from problem

    def clean_worn(self) -> str:
        return str(self.cleaned_data["worn"]).replace("\x00", "").strip()

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("hurt") and not cleaned.get("hurts") and "hurts" not in self.errors:
            self.add_error("hurts", "Say whether it still hurts there.")
        return cleaned

    def person(self) -> Person:
        """Return what the rules of the need ask about; signs that nobody has looked at stay missing."""
        answers = self.cleaned_data
        foot = ObservedFoot(pronation=answers["roll"])
        region = answers["hurt"]
        history = (Complaint(region, now=answers["hurts"] == NOW),) if region else ()
        return Person(answers["use"], answers["body_mass_kg"], foot, foot, history=history)
