"""The observation on the page of a fitting: the look at the person walking barefoot, which the need follows from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms

from fittings.domain.fitting.angles import KINDS, Kind
from fittings.domain.fitting.grading import MEASURED, graded_foot
from fittings.domain.fitting.intake import FootIntake, FootMarks
from fittings.forms.fields import GRADE_CHOICES, number_field, pick_field, whole_field, yes_no_field
from fittings.forms.fitting.picture_marks import MARK_ERRORS, MARKS_MAX, UNREADABLE, PictureMeasures, kinds_text
from fittings.forms.fitting.section import Section, SectionForm
from fittings.models import SectionName
from fittings.selectors.fitting.cutoffs import current_cutoffs


class FootObservationForm(SectionForm):
    """One foot as it was seen: a grade each, or the degrees that make the grade.

    `marks` come from the measuring on a picture, as JSON. Only they are sent; the measures are worked out from them
    here, and never the picture.
    """

    pronation = pick_field("Pronation", GRADE_CHOICES)
    tibial_rotation = pick_field("Tibial rotation", GRADE_CHOICES)
    rearfoot_eversion = pick_field("Rearfoot eversion", GRADE_CHOICES)
    pronation_deg = number_field("Pronation", "degrees")
    tibial_rotation_deg = number_field("Tibial rotation", "degrees")
    rearfoot_eversion_deg = number_field("Rearfoot eversion", "degrees")
    fpi6 = whole_field("Foot Posture Index", "fpi6", help_text="−12 to 12")
    navicular_drop_mm = number_field("Navicular drop", "navicular_drop_mm")
    marks = forms.CharField(required=False, max_length=MARKS_MAX, widget=forms.HiddenInput)

    @property
    def foot(self) -> str:
        return str(self.prefix)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        self.pictures = PictureMeasures((), ())
        if "marks" in self.errors:
            self.add_error("rearfoot_eversion_deg", UNREADABLE)
            return cleaned
        try:
            self.pictures = PictureMeasures.read(cleaned.get("marks") or "", self.foot)
        except MARK_ERRORS as problem:
            self.add_error("rearfoot_eversion_deg", f"Measure on the picture again: {str(problem)[:200]}")
            return cleaned
        for name, words in self.pictures.problems(cleaned).items():
            self.add_error(name, words)
        seen = self.seen()
        if any(getattr(seen, f"{name}_deg") is not None for name in MEASURED):
            for name, words in graded_foot(seen, current_cutoffs().cutoffs).problems.items():
                self.add_error(name, words)
        return cleaned

    def seen(self) -> FootIntake:
        """The foot as it is recorded. A grade picked beside the marks of a picture overrides the one they propose."""
        said = {name: value for name, value in self.cleaned_data.items() if name in FootIntake.__slots__}
        return FootIntake(**(said if self.errors else self.pictures.overriding(said)))

    def foot_marks(self) -> tuple[FootMarks, ...]:
        return () if self.errors else self.pictures.taken

    def has_degrees(self) -> bool:
        return any(self[f"{name}_deg"].value() for name in MEASURED)


class HipForm(SectionForm):
    hip_weak = yes_no_field("Does the hip give way in a single-leg squat?", other="not checked")


class ObservationSection(Section):
    name = SectionName.OBSERVATION

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        self.left, self.right = FootObservationForm(data, prefix="left"), FootObservationForm(data, prefix="right")
        self.hip = HipForm(data, prefix="hip")
        return [self.left, self.right, self.hip]

    def has_degrees(self) -> bool:
        return self.left.has_degrees() or self.right.has_degrees()

    @property
    def angle_kinds(self) -> Mapping[str, Kind]:
        """What can be measured on a picture."""
        return KINDS

    @property
    def angle_kinds_text(self) -> str:
        """The same for the script of the page."""
        return kinds_text()
