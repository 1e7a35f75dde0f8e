"""Forms of trying on, choosing and follow-ups. Rules are checked by the services."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from catalogue.domain.sizes import SIZE_EXAMPLES, SIZE_MAX_LENGTH
from catalogue.models import WIDTH_MAX_LENGTH
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.domain.fitting.regions import Complaint, place_words
from fittings.domain.outcomes.overuse import ANSWERS, QUESTIONS
from fittings.domain.outcomes.recurrence import Pain
from fittings.forms.fields import (
    REGION_CHOICES,
    SIDE_CHOICES,
    ZERO_TO_TEN,
    ShoeNameField,
    number_field,
    pick_field,
    whole_field,
    yes_no_field,
)
from fittings.models.follow_up import COMMENT_MAX
from fittings.selectors.fitting.shoe_names import shoes_by_text
from fittings.services.fitting.checks import NAME_MAX, PHONE_MAX
from fittings.services.fitting.choice import REASON_MAX

FREE_PAIN_ROWS = 1
UNNAMED_PAIN_ROWS = 3
"""Places that can be named where the page names none itself."""


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


WIDTH_HELP = "Only where the shoe is made in several, as the maker writes it: D, 2E."


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


class PainForm(forms.Form):
    """Where it hurts and how much; a row without a score is not answered."""

    all_optional = True

    region = forms.ChoiceField(label="Where", required=False, choices=REGION_CHOICES)
    side = forms.ChoiceField(label="Side", required=False, choices=SIDE_CHOICES)
    score = pick_field("How much", [("", "no answer"), *ZERO_TO_TEN], widget=forms.Select)

    def __init__(self, *args: Any, known: Complaint | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.is_known = known is not None
        if known is not None:
            # The place is known from the fitting: only the score is asked.
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

    all_optional = True

    wearing = yes_no_field("Are you still wearing the shoes?", other="no answer")
    distance_km_week = number_field("How far have you gone each week since last time?", "distance_km_week")
    comfort = pick_field(
        "How comfortable are they?",
        [("", "no answer"), *ZERO_TO_TEN],
        help_text="0 not at all, 10 could not be better.",
    )
    nothing_hurts = forms.TypedChoiceField(
        label="Does anything hurt?",
        required=False,
        choices=[("no", "Yes, something hurts"), ("yes", "No, nothing hurts"), ("", "no answer")],
        coerce=lambda text: text == "yes",
        empty_value=None,
        initial="",
        widget=forms.RadioSelect,
    )
    overuse_1 = _overuse_field(0)
    overuse_2 = _overuse_field(1)
    overuse_3 = _overuse_field(2)
    overuse_4 = _overuse_field(3)
    days_off = whole_field("Days off walking, running or work because of it", "days_off")
    saw_clinician = yes_no_field("Have you seen a clinician about it?", other="no answer")
    comment = forms.CharField(
        label="Anything else?", required=False, max_length=COMMENT_MAX, widget=forms.Textarea(attrs={"rows": 2})
    )

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
    """The forms of a follow-up's page: the questions, a row for each known complaint, and free rows.

    Without a history no place is named, and as many can be named as `UNNAMED_PAIN_ROWS`.
    """

    def __init__(self, data: Mapping[str, Any] | None = None, *, history: Sequence[Complaint] | None) -> None:
        places = {(item.region, item.side): item for item in history or ()}.values()
        self.names_places = history is not None
        rows: list[Complaint | None] = [*places, *[None] * (FREE_PAIN_ROWS if self.names_places else UNNAMED_PAIN_ROWS)]
        self.questions = AnswerForm(data)
        self.pains = [PainForm(data, prefix=f"pain-{row}", known=known) for row, known in enumerate(rows)]

    def all(self) -> list[forms.Form]:
        return [self.questions, *self.pains]

    def is_valid(self) -> bool:
        return all([form.is_valid() for form in self.all()])  # noqa: C419  each is asked

    def answer(self) -> FollowUpAnswer:
        data = self.questions.cleaned_data
        pains = tuple(pain for pain in (form.pain() for form in self.pains) if pain is not None)
        return FollowUpAnswer(
            wearing=data["wearing"],
            distance_km_week=data["distance_km_week"],
            comfort=data["comfort"],
            pain=pains,
            nothing_hurts=data["nothing_hurts"],
            overuse=self.questions.overuse(),
            days_off=data["days_off"],
            comment=data["comment"],
            saw_clinician=data["saw_clinician"],
        )


class AmendForm(forms.Form):
    """Why answers are amended."""

    reason = forms.CharField(label="What was wrong with them?", max_length=REASON_MAX)


class NoteForm(forms.Form):
    """A contact outside the schedule."""

    comment = forms.CharField(
        label="What was it about?", required=False, max_length=COMMENT_MAX, widget=forms.Textarea(attrs={"rows": 3})
    )
    saw_clinician = yes_no_field("Have they seen a clinician about it?", other="not said")


class NotReachedForm(forms.Form):
    """Nobody answered the telephone; sent twice it counts once."""

    submission = forms.UUIDField(widget=forms.HiddenInput)


class NoteForms:
    """The forms of a contact: the note, a row for each known complaint, and free rows."""

    def __init__(self, data: Mapping[str, Any] | None = None, *, history: Sequence[Complaint]) -> None:
        answers = AnswerForms(data, history=history)
        self.note, self.pains = NoteForm(data), answers.pains

    def is_valid(self) -> bool:
        return all([form.is_valid() for form in [self.note, *self.pains]])  # noqa: C419  each is asked

    def answer(self) -> FollowUpAnswer:
        pains = tuple(pain for pain in (form.pain() for form in self.pains) if pain is not None)
        return FollowUpAnswer(pain=pains, **self.note.cleaned_data)


class PersonForm(forms.Form):
    """Who a customer is."""

    name = forms.CharField(label="Name", max_length=NAME_MAX, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    email = forms.EmailField(label="E-mail address", required=False)
    phone = forms.CharField(
        label="Telephone", required=False, max_length=PHONE_MAX, widget=forms.TextInput(attrs={"inputmode": "tel"})
    )


class ContactForm(forms.Form):
    """How a customer is reached."""

    email = forms.EmailField(label="E-mail address", required=False)
    phone = forms.CharField(
        label="Telephone", required=False, max_length=PHONE_MAX, widget=forms.TextInput(attrs={"inputmode": "tel"})
    )
