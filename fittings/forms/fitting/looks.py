"""Looks in motion beside the observation: how somebody moved, what they wore, and the signs of both feet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from fittings.domain.fitting.angles import KINDS, Kind
from fittings.domain.fitting.grading import MEASURED, graded_foot
from fittings.domain.fitting.intake import Condition, FootIntake, Look
from fittings.domain.fitting.looks import GAITS, OBSERVED, condition_words
from fittings.forms.fields import GRADE_CHOICES, TRY_ROWS, number_field, pick_field
from fittings.forms.fitting.picture_marks import MARK_ERRORS, MARKS_MAX, UNREADABLE, PictureMeasures, kinds_text
from fittings.forms.fitting.section import Section, SectionForm
from fittings.models import SectionName
from fittings.selectors.fitting.cutoffs import current_cutoffs

LOOK_ROWS = 6
FEET = ("left", "right")
LABELS = {"pronation": "Pronation", "tibial_rotation": "Tibial rotation", "rearfoot_eversion": "Rearfoot eversion"}
WITHOUT_CANDIDATES = [("", "choose"), ("barefoot", "barefoot"), ("own", "own shoe")]
TRIED_ON = [(str(row), f"number {row + 1} of the try-ons") for row in range(TRY_ROWS)]


ROLLING_IN = "rearfoot_eversion"
ON_PICTURES = (ROLLING_IN,)
"""What can be measured on a picture in a look."""
_NAMES = (*MEASURED, *(f"{sign}_deg" for sign in MEASURED))


@dataclass(frozen=True, slots=True)
class FootFields:
    """The fields of one foot in a look; `prefix` is what their names begin with."""

    foot: str
    prefix: str
    grades: list[forms.BoundField]
    degrees: list[forms.BoundField]
    marks: forms.BoundField


class LookForm(SectionForm):
    """One look. `shoes` are the shoes tried on: the value of each in the form, and its name."""

    gait = forms.ChoiceField(
        label="Moving", required=False, choices=[("", "no look"), *GAITS.items()], widget=forms.RadioSelect
    )
    worn = forms.ChoiceField(label="Wearing", required=False)

    def __init__(self, *args: Any, shoes: Sequence[tuple[str, str]] = (), **options: Any) -> None:
        super().__init__(*args, **options)
        self.pictures = dict.fromkeys(FEET, PictureMeasures((), ()))
        self.fields["worn"].choices = [*WITHOUT_CANDIDATES, *shoes]  # type: ignore[attr-defined]
        for foot in FEET:
            for sign in MEASURED:
                self.fields[f"{foot}_{sign}"] = pick_field(LABELS[sign], GRADE_CHOICES)
                self.fields[f"{foot}_{sign}_deg"] = number_field(LABELS[sign], "degrees")
            self.fields[f"{foot}_marks"] = forms.CharField(
                required=False, max_length=MARKS_MAX, widget=forms.HiddenInput
            )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.is_filled():
            return cleaned
        self.check_where(cleaned)
        self._read_pictures()
        if not self._signs() and not self.errors:
            self.add_error("left_pronation", "Grade or measure at least one sign of one foot, or clear the look.")
        self._check_grades()
        return cleaned

    def check_where(self, cleaned: Mapping[str, Any]) -> None:
        """Refuse a look without gait or footwear, and the one that has a place of its own."""
        if not cleaned.get("gait") and "gait" not in self.errors:
            self.add_error("gait", "Say whether this was walking or running, or clear the look.")
        if not cleaned.get("worn") and "worn" not in self.errors:
            self.add_error("worn", "Say what was worn, or clear the look.")
        elif (cleaned.get("gait"), cleaned.get("worn")) == (OBSERVED.gait, OBSERVED.worn):
            self.add_error("worn", "Walking barefoot is the observation in section 4. Enter it there.")

    def _read_pictures(self) -> None:
        """Read what was measured on pictures, and refuse at its field what does not agree with the marks."""
        for foot in FEET:
            field = f"{foot}_rearfoot_eversion_deg"
            if f"{foot}_marks" in self.errors:
                self.add_error(field, UNREADABLE)
                continue
            try:
                pictures = PictureMeasures.read(self.cleaned_data.get(f"{foot}_marks") or "", foot)
            except MARK_ERRORS as problem:
                self.add_error(field, f"Measure on the picture again: {str(problem)[:200]}")
                continue
            if {item.kind for item in pictures.measured} - set(ON_PICTURES):
                self.add_error(field, "Only the rearfoot is measured on a picture in a look. Measure it again.")
                continue
            for name, words in pictures.problems(self._said(foot)).items():
                self.add_error(f"{foot}_{name}", words)
            self.pictures[foot] = pictures

    def _check_grades(self) -> None:
        feet = {foot: self._foot(foot) for foot in FEET}
        if not any(getattr(foot, f"{sign}_deg") is not None for foot in feet.values() for sign in MEASURED):
            return
        for side, foot in feet.items():
            for name, words in graded_foot(foot, current_cutoffs().cutoffs).problems.items():
                self.add_error(f"{side}_{name}", words)

    def _signs(self) -> list[str]:
        return [
            name
            for name, value in self.cleaned_data.items()
            if name.partition("_")[0] in FEET and not name.endswith("_marks") and value not in (None, "")
        ]

    def is_filled(self) -> bool:
        """Whether anything was written here."""
        return any(self[name].value() not in (None, "") for name in self.fields)

    def has_degrees(self) -> bool:
        return any(self[f"{foot}_{sign}_deg"].value() for foot in FEET for sign in MEASURED)

    def feet(self) -> list[FootFields]:
        """The fields as the page places them."""
        return [
            FootFields(
                foot=foot,
                prefix=self.add_prefix(f"{foot}_"),
                grades=[self[f"{foot}_{sign}"] for sign in MEASURED],
                degrees=[self[f"{foot}_{sign}_deg"] for sign in MEASURED],
                marks=self[f"{foot}_marks"],
            )
            for foot in FEET
        ]

    def _said(self, foot: str) -> dict[str, Any]:
        return {name: self.cleaned_data.get(f"{foot}_{name}") for name in _NAMES}

    def _foot(self, foot: str) -> FootIntake:
        return FootIntake(**self.pictures[foot].overriding(self._said(foot)))

    def feet_seen(self) -> dict[str, Any]:
        """Both feet as they were seen, and how far readings on pictures differ: what a look is made of."""
        left, right = (self.pictures[foot].apart(ROLLING_IN) for foot in FEET)
        return {foot: self._foot(foot) for foot in FEET} | {"apart": (left, right)}

    def look(self, shoes: Mapping[str, str]) -> Look | None:
        """The look, where it is in order; `shoes` has the slug of each shoe tried on that the form may name."""
        said = self.cleaned_data
        worn = said.get("worn") or ""
        if self.errors or not self.is_filled() or (worn not in ("barefoot", "own") and worn not in shoes):
            return None
        slug = shoes.get(worn, "")
        return Look(Condition(said["gait"], "candidate" if slug else worn, slug), **self.feet_seen())


def check_each_once(forms_: Sequence[LookForm]) -> bool:
    """Refuse a second look of one kind, at its field."""
    seen: set[tuple[str, str]] = set()
    for form in forms_:
        if form.errors or not form.is_filled():
            continue
        kind = form.cleaned_data["gait"], form.cleaned_data["worn"]
        if kind in seen:
            words = condition_words(Condition(kind[0], kind[1] if kind[1] in ("barefoot", "own") else "candidate"))
            form.add_error("worn", f"There is already a look {words}. Use one of the two.")
        seen.add(kind)
    return not any(form.errors for form in forms_)


@dataclass(frozen=True, slots=True)
class PictureKinds:
    """What can be measured on a picture in a look: for the page, and the same for its script."""

    kinds: Mapping[str, Kind]
    text: str


def picture_kinds() -> PictureKinds:
    return PictureKinds({name: KINDS[name] for name in ON_PICTURES}, kinds_text(*ON_PICTURES))


class LooksSection(Section):
    """The looks on the page of a fitting. A shoe tried on is named by its row in the section above."""

    name = SectionName.LOOKS

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.rows = [LookForm(data, prefix=f"look-{row}", shoes=TRIED_ON) for row in range(LOOK_ROWS)]
        return self.rows

    def check(self) -> bool:
        return super().check() and check_each_once(self.rows)

    def filled(self) -> list[LookForm]:
        """The rows that have a look in order."""
        return [form for form in self.written() if not form.errors]

    def written(self) -> list[LookForm]:
        """The rows in which anything was written; where the section is in order, each of them is a look."""
        return [form for form in self.rows if form.is_filled()]

    def has_degrees(self) -> bool:
        return any(form.has_degrees() for form in self.rows)

    @property
    def picture_kinds(self) -> PictureKinds:
        return picture_kinds()

    def looks(self, tried: Mapping[str, str]) -> tuple[Look, ...]:
        """The looks in order; one that names an empty row of the try-ons is left out (`check_shoes` refuses it)."""
        return tuple(look for look in (form.look(tried) for form in self.filled()) if look is not None)

    def check_shoes(self, tried: Mapping[str, str]) -> bool:
        """Refuse a look whose row of the try-ons names no shoe, at its field."""
        for form in self.filled():
            worn = form.cleaned_data["worn"]
            if worn not in ("barefoot", "own") and worn not in tried:
                form.add_error("worn", f"Number {int(worn) + 1} has no shoe. Pick a try-on that has one.")
        return not any(form.errors for form in self.rows)
