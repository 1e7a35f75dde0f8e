"""Forms of the fittings: what can be written down, and how it is handed on. Rules are checked by the services."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms

from core.models import Store
from fittings.domain.bounds import LIMITS
from fittings.domain.need import GRADE_WORDS, USES
from fittings.domain.overuse import ANSWERS, QUESTIONS
from fittings.domain.recurrence import Pain
from fittings.domain.regions import REGIONS, SIDES, Complaint, place_words
from fittings.domain.stop_signs import STOP_SIGNS
from fittings.intake import CustomerIntake, FittingIntake, FollowUpAnswer, FootIntake
from fittings.services.checks import NAME_MAX
from fittings.services.choice import REASON_MAX

HISTORY_ROWS = 4
FREE_PAIN_ROWS = 1
REGION_CHOICES = [("", "no complaint"), *REGIONS.items()]
SIDE_CHOICES = [("", "side not known"), *SIDES.items()]
ZERO_TO_TEN = [(str(number), str(number)) for number in range(11)]
GRADE_CHOICES = [("", "not looked at"), *((str(grade), f"{grade} {word}") for grade, word in enumerate(GRADE_WORDS))]
YES_NO = [("yes", "Yes"), ("no", "No")]


def number_field(label: str, limits: str, *, step: str = "any", help_text: str = "") -> forms.FloatField:
    """A number that may be left out, within the limits of the domain."""
    low, high = LIMITS[limits]
    return forms.FloatField(
        label=label,
        required=False,
        min_value=low,
        max_value=high,
        help_text=help_text,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": step}),
    )


def whole_field(label: str, limits: str, help_text: str = "") -> forms.IntegerField:
    low, high = LIMITS[limits]
    return forms.IntegerField(label=label, required=False, min_value=int(low), max_value=int(high), help_text=help_text)


def pick_field(label: str, choices: Iterable[tuple[str, str]], **options: Any) -> forms.TypedChoiceField:
    """One of a few whole numbers as big buttons to touch; none picked is None."""
    return forms.TypedChoiceField(
        label=label,
        required=False,
        choices=list(choices),
        coerce=int,
        empty_value=None,
        widget=options.pop("widget", forms.RadioSelect),
        **options,
    )


def yes_no_field(label: str, *, other: str = "not asked", **options: Any) -> forms.TypedChoiceField:
    return forms.TypedChoiceField(
        label=label,
        required=False,
        choices=[*YES_NO, ("", other)],
        coerce=lambda text: text == "yes",
        empty_value=None,
        initial="",
        widget=forms.RadioSelect,
        **options,
    )


class FittingForm(forms.Form):
    """The person: consent, use, body mass, pain, stop signs, and what they wear now."""

    submission = forms.UUIDField(widget=forms.HiddenInput)
    store = forms.ChoiceField(label="Store")
    consent = forms.ChoiceField(
        label="Does the customer agree that this fitting is kept?",
        choices=[("yes", "Yes, keep it"), ("no", "No, show the recommendations and keep nothing")],
        widget=forms.RadioSelect,
    )
    name = forms.CharField(label="Name", required=False, max_length=NAME_MAX, help_text="Kept only with consent.")
    email = forms.EmailField(
        label="E-mail address", required=False, help_text="For the follow-ups. Kept only with consent."
    )
    use = forms.ChoiceField(label="Shoes for", choices=list(USES.items()), initial="running", widget=forms.RadioSelect)
    body_mass_kg = number_field("Body mass", "body_mass_kg", step="0.1")
    distance_km_week = number_field("Distance a week", "distance_km_week", step="0.1")
    pain_now = pick_field(
        "Pain now",
        [("", "not asked"), *ZERO_TO_TEN],
        help_text="0 none, 10 the worst there is.",
        widget=forms.Select,
    )
    stop_signs = forms.MultipleChoiceField(
        label="Stop signs",
        required=False,
        choices=list(STOP_SIGNS.items()),
        widget=forms.CheckboxSelectMultiple,
        help_text="Any of these belongs before a clinician first. A shoe can still be chosen, but not as treatment.",
    )
    hip_weak = yes_no_field("Does the hip give way in a single-leg squat?", other="not looked at")
    current_shoe = forms.CharField(
        label="Shoe worn now",
        required=False,
        max_length=80,
        help_text="Leave empty where it is not in the catalogue.",
        widget=forms.TextInput(attrs={"list": "shoes", "autocomplete": "off"}),
    )
    cushioning = forms.ChoiceField(
        label="How soft should it feel?",
        required=False,
        choices=[("", "no wish"), ("more", "softer"), ("less", "firmer")],
        widget=forms.RadioSelect,
        initial="",
    )

    def __init__(self, *args: Any, stores: Sequence[Store], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        store = self.fields["store"]
        assert isinstance(store, forms.ChoiceField)  # noqa: S101  declared above; for the type checker
        store.choices = [(each.slug, each.name) for each in stores]
        store.initial = stores[0].slug if stores else ""
        if len(stores) == 1:
            store.widget = forms.HiddenInput()
        self.fields["submission"].initial = uuid.uuid4

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("consent") == "yes" and not cleaned.get("name") and "name" not in self.errors:
            self.add_error("name", "Give a name, so that the fitting can be found again.")
        return cleaned


class FootForm(forms.Form):
    """One foot: what was seen of the gait, the posture, the measures."""

    pronation = pick_field("Pronation", GRADE_CHOICES, initial="")
    tibial_rotation = pick_field("Tibial rotation", GRADE_CHOICES, initial="")
    heel_deviation = pick_field("Heel deviation", GRADE_CHOICES, initial="")
    fpi6 = whole_field("Foot Posture Index", "fpi6", help_text="Sum of the six items, −12 to 12.")
    navicular_drop_mm = number_field("Navicular drop", "navicular_drop_mm")
    length_mm = number_field("Length", "length_mm")
    width_mm = number_field("Width", "width_mm")

    def foot(self) -> FootIntake:
        return FootIntake(**self.cleaned_data)


class HistoryForm(forms.Form):
    """One complaint; a row without a region is empty."""

    region = forms.ChoiceField(label="Where", required=False, choices=REGION_CHOICES)
    side = forms.ChoiceField(label="Side", required=False, choices=SIDE_CHOICES)
    state = forms.ChoiceField(label="Is it there now?", required=False, choices=[("past", "no"), ("now", "yes, now")])
    settled_on = forms.DateField(
        label="Settled on", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("settled_on") and not cleaned.get("region") and "region" not in self.errors:
            self.add_error("region", "Say where the complaint was, or leave the date out.")
        return cleaned

    def complaint(self) -> Complaint | None:
        data = self.cleaned_data
        if not data.get("region"):
            return None
        return Complaint(data["region"], data["side"] or None, data["state"] == "now", data["settled_on"])


class IntakeForms:
    """The forms of the page of a new fitting, checked together."""

    def __init__(self, data: Mapping[str, Any] | None = None, *, stores: Sequence[Store]) -> None:
        self.person = FittingForm(data, stores=stores)
        self.left = FootForm(data, prefix="left")
        self.right = FootForm(data, prefix="right")
        self.history = [HistoryForm(data, prefix=f"history-{row}") for row in range(HISTORY_ROWS)]

    def all(self) -> list[forms.Form]:
        return [self.person, self.left, self.right, *self.history]

    def is_valid(self) -> bool:
        # Each is asked, so that every problem is shown at once.
        return all([form.is_valid() for form in self.all()])  # noqa: C419

    def add_problems(self, fields: Mapping[str, Sequence[str]], message: str) -> None:
        """Put what a service refused beside the fields it names, or above the form."""
        for name, messages in fields.items():
            form, field = self._place(name)
            for text in messages:
                form.add_error(field, text)
        if not fields:
            self.person.add_error(None, message)

    def _place(self, name: str) -> tuple[forms.Form, str | None]:
        first, *rest = name.split(".")
        if first in ("observation", "feet") and len(rest) == 2:
            return (self.left if rest[0] == "left" else self.right), rest[1]
        if first == "history" and len(rest) == 2:
            filled = [form for form in self.history if form.complaint() is not None]
            return filled[int(rest[0])], rest[1]
        last = rest[-1] if rest else first
        return self.person, last if last in self.person.fields else None

    def intake(self) -> FittingIntake:
        data = self.person.cleaned_data
        complaints = (form.complaint() for form in self.history)
        return FittingIntake(
            use=data["use"],
            customer=CustomerIntake(data["name"], data["email"], data["consent"] == "yes"),
            body_mass_kg=data["body_mass_kg"],
            distance_km_week=data["distance_km_week"],
            history=tuple(item for item in complaints if item is not None),
            pain_now=data["pain_now"],
            stop_signs=tuple(data["stop_signs"]),
            left=self.left.foot(),
            right=self.right.foot(),
            hip_weak=data["hip_weak"],
            current_shoe=data["current_shoe"] or None,
            cushioning=data["cushioning"],
            submission=data["submission"],
        )


class TryOnForm(forms.Form):
    """A shoe tried on, in a size, with its comfort."""

    slug = forms.CharField(
        label="Shoe", max_length=80, widget=forms.TextInput(attrs={"list": "shoes", "autocomplete": "off"})
    )
    size = forms.CharField(label="Size", max_length=10, help_text="Like EU 42.5")
    comfort = pick_field("Comfort", [("", "not said"), *ZERO_TO_TEN], widget=forms.Select, help_text="10 is best.")


class ChoiceForm(TryOnForm):
    """The shoe chosen."""

    reason = forms.CharField(
        label="Why this one?",
        required=False,
        max_length=REASON_MAX,
        help_text="Needed where the shoe lies outside the target.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class PainForm(forms.Form):
    """Where it hurts and how much; a row without a score is not answered."""

    region = forms.ChoiceField(label="Where", required=False, choices=REGION_CHOICES)
    side = forms.ChoiceField(label="Side", required=False, choices=SIDE_CHOICES)
    score = pick_field("How much", [("", "no answer"), *ZERO_TO_TEN], widget=forms.Select)

    def __init__(self, *args: Any, known: Complaint | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.is_known = known is not None
        if known is not None:
            # The place was told at the fitting: only the score is asked.
            self.fields["region"].widget = forms.HiddenInput()
            self.fields["side"].widget = forms.HiddenInput()
            self.initial.update(region=known.region, side=known.side or "")
            self.fields["score"].label = place_words(known.region, known.side).capitalize()

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("score") is not None and not cleaned.get("region") and "region" not in self.errors:
            self.add_error("region", "Say where it hurts.")
        return cleaned

    def pain(self) -> Pain | None:
        data = self.cleaned_data
        if not data.get("region") or data.get("score") is None:
            return None
        return Pain(data["region"], data["side"] or None, data["score"])


def _overuse_field(index: int) -> forms.TypedChoiceField:
    question, words = QUESTIONS[index]
    choices = [(str(points), answer) for points, answer in zip(ANSWERS, words, strict=True)]
    return pick_field(question, choices)


class AnswerForm(forms.Form):
    """The questions of a follow-up, without the places of pain."""

    wearing = yes_no_field("Are you still wearing the shoes?", other="no answer")
    distance_km_week = number_field("How far did you go a week, since last time?", "distance_km_week")
    comfort = pick_field(
        "How comfortable are they?",
        [("", "no answer"), *ZERO_TO_TEN],
        widget=forms.Select,
        help_text="0 not at all, 10 could not be better.",
    )
    overuse_1 = _overuse_field(0)
    overuse_2 = _overuse_field(1)
    overuse_3 = _overuse_field(2)
    overuse_4 = _overuse_field(3)
    days_off = whole_field("Days off walking, running or work because of it", "days_off")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        given = [cleaned.get(f"overuse_{number}") for number in range(1, 5)]
        if any(value is not None for value in given):
            for number, value in enumerate(given, start=1):
                if value is None and f"overuse_{number}" not in self.errors:
                    self.add_error(f"overuse_{number}", "Answer all four of these questions, or none of them.")
        return cleaned

    def overuse(self) -> tuple[int, ...] | None:
        given = tuple(self.cleaned_data[f"overuse_{number}"] for number in range(1, 5))
        return None if None in given else given


class AnswerForms:
    """The forms of a follow-up's page: the questions, a row for each known complaint, and free rows."""

    def __init__(self, data: Mapping[str, Any] | None = None, *, history: Sequence[Complaint]) -> None:
        places = {(item.region, item.side): item for item in history}.values()
        rows: list[Complaint | None] = [*places, *(None for _ in range(FREE_PAIN_ROWS))]
        self.questions = AnswerForm(data)
        self.pains = [PainForm(data, prefix=f"pain-{row}", known=known) for row, known in enumerate(rows)]

    def all(self) -> list[forms.Form]:
        return [self.questions, *self.pains]

    def is_valid(self) -> bool:
        return all([form.is_valid() for form in self.all()])  # noqa: C419  each is asked

    def answer(self) -> FollowUpAnswer:
        data = self.questions.cleaned_data
        pains = tuple(pain for pain in (form.pain() for form in self.pains) if pain is not None)
        # Who answers anything has seen the question about pain, and left it because nothing hurts.
        has_answered = bool(pains) or any(value is not None for value in data.values())
        return FollowUpAnswer(
            wearing=data["wearing"],
            distance_km_week=data["distance_km_week"],
            comfort=data["comfort"],
            pain=pains if has_answered else None,
            overuse=self.questions.overuse(),
            days_off=data["days_off"],
        )
