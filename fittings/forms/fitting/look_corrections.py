"""Forms of correcting what was seen in motion, or taking it back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from fittings.domain.fitting.angles import KINDS
from fittings.domain.fitting.grading import MEASURED
from fittings.domain.fitting.intake import Look
from fittings.domain.fitting.looks import OBSERVED
from fittings.forms.fields import number_field
from fittings.forms.fitting.looks import LookForm
from fittings.models import PictureAngle
from fittings.services.fitting.choice import REASON_MAX


class LookReasonForm(forms.Form):
    """Why it is corrected; `take_back` where there is nothing in its place."""

    reason = forms.CharField(label="Why?", max_length=REASON_MAX, widget=forms.Textarea(attrs={"rows": 2}))
    take_back = forms.BooleanField(label="Withdraw it: nothing takes its place", required=False)

    def __init__(self, *args: Any, only_correct: bool = False, **options: Any) -> None:
        super().__init__(*args, **options)
        if only_correct:
            del self.fields["take_back"]

    def takes_back(self) -> bool:
        return bool(self.cleaned_data.get("take_back"))


class CorrectedLookForm(LookForm):
    """A look that is there already, as it should be; the observation has no choice of how and in what."""

    def __init__(self, data: Mapping[str, Any] | None, *, look: Look, shoes: Sequence[tuple[str, str]]) -> None:
        super().__init__(data, prefix="look", shoes=shoes, initial=_initial(look))
        self.slugs = tuple(slug for slug, _ in shoes)
        self.is_observation = look.condition.is_observation
        if self.is_observation:
            del self.fields["gait"], self.fields["worn"]

    def check_where(self, cleaned: Mapping[str, Any]) -> None:
        if not self.is_observation:
            super().check_where(cleaned)

    def look(self, shoes: Mapping[str, str]) -> Look | None:
        if not self.is_observation:
            return super().look(shoes)
        return None if self.errors else Look(OBSERVED, **self.feet_seen())


def _initial(look: Look) -> dict[str, Any]:
    """The look as the form shows it. A grade that degrees made is left out, so that it follows from them again."""
    condition = look.condition
    shown: dict[str, Any] = {"gait": condition.gait, "worn": condition.shoe or condition.worn}
    for foot, seen in look.feet():
        for sign in MEASURED:
            degrees = getattr(seen, f"{sign}_deg")
            shown[f"{foot}_{sign}"] = None if degrees is not None else getattr(seen, sign)
            shown[f"{foot}_{sign}_deg"] = degrees
    return shown


class AngleForm(forms.Form):
    """Two readings that take the place of a measure on a picture."""

    def __init__(self, data: Mapping[str, Any] | None, *, angle: PictureAngle) -> None:
        super().__init__(data)
        kind = KINDS[angle.kind]
        limits = "navicular_drop_mm" if kind.needs_length else "degrees"
        for name, label in (("first", "First reading"), ("second", "Second reading")):
            self.fields[name] = number_field(f"{label} ({kind.unit})", limits)

    def readings(self) -> tuple[float, float] | None:
        """The two readings; a missing one is named at its field."""
        for name in ("first", "second"):
            if self.cleaned_data.get(name) is None and name not in self.errors:
                self.add_error(name, "Enter both readings, or withdraw the measure.")
        return None if self.errors else (self.cleaned_data["first"], self.cleaned_data["second"])
