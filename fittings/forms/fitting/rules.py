"""A new version of the rules: a field a number, put together as the domain keeps them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any

from django import forms
from django.forms import BoundField

from core.models import printable
from fittings.domain.fitting.need import GRADE_WORDS
from fittings.domain.fitting.rules_data import MATCH_RANGES, POINTS_RANGE, THRESHOLD_RANGE, WIDTHS, match_from_data
from fittings.domain.regions import REGIONS
from fittings.models import NeedRules

GRADED = {"pronation": "Pronation", "tibial_rotation": "Tibial rotation", "rearfoot_eversion": "Rearfoot eversion"}
STEPPED = {
    "fpi6_at_least": ("Foot Posture Index", "at least", ""),
    "running_mass_above_kg": ("Body mass of runners", "above", " kg"),
}
STEPS = 3
SINGLE = {
    "base": "Starting point",
    "weak_hip": "Weak hip in the single-leg squat",
    "past_pain": "Past pain in one of the regions",
    "pain_now_centre_min": "Pain now in one of them: centre at least",
}
HALF_WIDTHS = {
    "half_width": "Half-width of a target",
    "half_width_per_left_out": "Wider by, for each observation left out",
}


def _number(label: str, limits: tuple[float, float], *, required: bool = True) -> forms.FloatField:
    low, high = limits
    return forms.FloatField(
        label=label,
        required=required,
        min_value=low,
        max_value=high,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"}),
    )


class NeedRulesForm(forms.Form):
    """The points tables, thresholds, floors and half-widths of the need, and what of the match is set by hand."""

    version = forms.CharField(label="Version", max_length=20, validators=[printable], help_text="Such as N2.")
    regions = forms.MultipleChoiceField(
        label="Regions whose pain counts", choices=list(REGIONS.items()), widget=forms.CheckboxSelectMultiple
    )
    drop_change_warned_mm = _number(
        "Warn of a drop that changes by more than, mm", MATCH_RANGES["drop_change_warned_mm"]
    )
    probability_step = _number("Shoes count as equally likely within (0.05 is 5 %)", MATCH_RANGES["probability_step"])
    nearest_shown = forms.IntegerField(
        label="Shoes shown when none is in the target",
        min_value=int(MATCH_RANGES["nearest_shown"][0]),
        max_value=int(MATCH_RANGES["nearest_shown"][1]),
    )
    reason = forms.CharField(
        label="Why", max_length=500, widget=forms.Textarea, help_text="Recorded in the audit trail and with the rules."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, label in SINGLE.items():
            self.fields[name] = _number(label, POINTS_RANGE)
        for name, label in HALF_WIDTHS.items():
            self.fields[name] = _number(label, WIDTHS[name])
        for name, label in GRADED.items():
            for grade, word in enumerate(GRADE_WORDS):
                self.fields[f"{name}_{grade}"] = _number(f"{label}: {word}", POINTS_RANGE)
        for name, (label, bound, unit) in STEPPED.items():
            for step in range(STEPS):
                self.fields[f"{name}_{step}_from"] = _number(
                    f"{label} {bound}{unit and f',{unit}'}", THRESHOLD_RANGE, required=False
                )
                self.fields[f"{name}_{step}_points"] = _number(f"{label}: points", POINTS_RANGE, required=False)

    def clean_version(self) -> str:
        version: str = self.cleaned_data["version"].strip()
        if NeedRules.objects.filter(version=version).exists():
            raise forms.ValidationError(f"There are already rules {version}; choose another name.")
        return version

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        for name in STEPPED:
            seen = set()
            for step in range(STEPS):
                at, points = (cleaned.get(f"{name}_{step}_{part}") for part in ("from", "points"))
                if (at is None) != (points is None):
                    missing = "points" if points is None else "from"
                    self.add_error(f"{name}_{step}_{missing}", "Give both, or leave both empty.")
                if at is not None and at in seen:
                    self.add_error(f"{name}_{step}_from", "This threshold is already listed above.")
                seen.add(at)
        return cleaned

    def rules(self) -> dict[str, Any]:
        """The rules of the need, as the domain reads them, without the version."""
        given = self.cleaned_data
        values: dict[str, Any] = {name: given[name] for name in (*SINGLE, *HALF_WIDTHS)}
        values |= {name: [given[f"{name}_{grade}"] for grade in range(4)] for name in GRADED}
        values |= {name: _steps(given, name) for name in STEPPED}
        return values | {"regions": given["regions"]}

    def match(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in MATCH_RANGES}

    def groups(self) -> Iterator[tuple[str, list[BoundField]]]:
        """The fields as the page groups them."""
        yield "Starting point and floor", [self["base"], self["pain_now_centre_min"]]
        for name, label in GRADED.items():
            yield f"{label}, points by grade", [self[f"{name}_{grade}"] for grade in range(4)]
        for name, (label, _, _) in STEPPED.items():
            pairs = [self[f"{name}_{step}_{part}"] for step in range(STEPS) for part in ("from", "points")]
            yield f"{label}, points by step", pairs
        yield "Hip and past pain", [self["weak_hip"], self["past_pain"]]
        yield "Width of the target", [self[name] for name in HALF_WIDTHS]
        yield "Match", [self[name] for name in MATCH_RANGES]


def _steps(given: Mapping[str, Any], name: str) -> list[list[float]]:
    pairs = [[given[f"{name}_{step}_from"], given[f"{name}_{step}_points"]] for step in range(STEPS)]
    return sorted((pair for pair in pairs if pair[0] is not None), reverse=True)


def initial_of(stored: NeedRules) -> dict[str, Any]:
    """The fields filled as a version has them, to begin a new one from."""
    data = stored.data
    values: dict[str, Any] = {name: data[name] for name in (*SINGLE, *HALF_WIDTHS, "regions")}
    for name in GRADED:
        values |= {f"{name}_{grade}": points for grade, points in enumerate(data[name])}
    for name in STEPPED:
        for step, (at, points) in enumerate(data[name][:STEPS]):
            values |= {f"{name}_{step}_from": at, f"{name}_{step}_points": points}
    return values | asdict(match_from_data(stored.match))
