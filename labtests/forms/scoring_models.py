"""Forms of the pages on scoring models: shape and choices only; the rules are in the services."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from labtests.domain.files.reference_table import TARGETS, Target
from labtests.domain.scores.model_rules import MAX_BANDS, NAME_LENGTH, NUMBERS, BandText
from labtests.forms.bench_tests import REASON_LENGTH
from labtests.models import ModelDraft
from labtests.models.adoptions import version_shape
from labtests.models.methods import VERSION_LENGTH
from labtests.selectors.bench.references import ReferenceReading

CSV_LENGTH = 60_000
REFERENCE_ROWS = 6
ANCHOR_LABELS = {
    "torque_0_nm": ("Torque at midfoot score 0", "N·m"),
    "torque_100_nm": ("Torque at midfoot score 100", "N·m"),
    "deflection_0_mm": ("Deflection at rearfoot score 0", "mm"),
    "deflection_100_mm": ("Deflection at rearfoot score 100", "mm"),
    "work_0_j": ("Work at cushioning score 0", "J"),
    "work_100_j": ("Work at cushioning score 100", "J"),
}


def _number(label: str, *, required: bool = True) -> forms.FloatField:
    return forms.FloatField(
        label=label, required=required, widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"})
    )


def _reason(label: str, hint: str) -> forms.CharField:
    return forms.CharField(
        label=label, max_length=REASON_LENGTH, help_text=hint, widget=forms.Textarea(attrs={"rows": 3})
    )


class NewDraftForm(forms.Form):
    """A draft to begin."""

    version = forms.CharField(
        label="Name of the draft",
        max_length=VERSION_LENGTH,
        validators=[version_shape],
        help_text="It becomes the name of the model and of its scale, and never changes: such as S2.",
    )
    source = forms.ChoiceField(label="Begin with the numbers and bands of")
    reason = _reason("Why another model", "It stays with the model and in the audit trail.")

    def __init__(self, *args: Any, sources: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        source = self.fields["source"]
        if isinstance(source, forms.ChoiceField):
            source.choices = list(sources)


class DraftForm(forms.Form):
    """Anchors, weights and bands of a draft; `revision` is the one that was shown."""

    revision = forms.IntegerField(widget=forms.HiddenInput)
    weight_midfoot = _number("Weight of midfoot in stability")
    guard_band = _number("Guard band at the limits, points", required=False)
    reason = _reason("Why another model", "It stays with the model and in the audit trail.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["weight_midfoot"].help_text = "From 0 to 1; rearfoot has the rest."
        self.fields["guard_band"].help_text = (
            "A shoe counts as within its band only where its score is at least this far inside the limits; nearer ones "
            "are borderline. 0 for none."
        )
        for name, (label, unit) in ANCHOR_LABELS.items():
            self.fields[name] = _number(f"{label}, {unit}")
        for order in range(1, MAX_BANDS + 1):
            self._add_band(order)

    def _add_band(self, order: int) -> None:
        self.fields[f"name_{order}"] = forms.CharField(
            label=f"Name of band {order}", required=False, max_length=NAME_LENGTH
        )
        self.fields[f"upper_{order}"] = _number(f"Band {order} ends below", required=False)
        self.fields[f"mass_{order}"] = _number(f"Runners up to in band {order}, kg", required=False)
        self.fields[f"suits_{order}"] = forms.CharField(
            label=f"Whom band {order} suits",
            required=False,
            max_length=400,
            widget=forms.Textarea(attrs={"rows": 2}),
        )

    @classmethod
    def of(cls, draft: ModelDraft) -> DraftForm:
        shown = (*ANCHOR_LABELS, "weight_midfoot", "guard_band")
        initial: dict[str, Any] = {name: getattr(draft, name) for name in shown}
        for order, band in enumerate(draft.bands, start=1):
            initial |= {
                f"name_{order}": band["name"],
                f"upper_{order}": band["upper"],
                f"suits_{order}": band["suits"],
                f"mass_{order}": band["runner_mass_max_kg"],
            }
        return cls(initial=initial | {"reason": draft.reason, "revision": draft.revision})

    def anchors(self) -> list[forms.BoundField]:
        return [self[name] for name in ANCHOR_LABELS]

    def band_rows(self) -> list[tuple[int, list[forms.BoundField]]]:
        return [
            (order, [self[f"{part}_{order}"] for part in ("name", "upper", "mass", "suits")])
            for order in range(1, MAX_BANDS + 1)
        ]

    def numbers(self) -> dict[str, float]:
        given: dict[str, float] = {name: self.cleaned_data[name] for name in (*ANCHOR_LABELS, "weight_midfoot")}
        # Rounded, so that 0.54 leaves 0.46 and not a little less.
        given["weight_rearfoot"] = round(1.0 - given["weight_midfoot"], 12)
        given["guard_band"] = self.cleaned_data["guard_band"] or 0.0
        return {name: given[name] for name in NUMBERS}

    def bands(self) -> list[BandText]:
        """The bands that were filled in; empty ones at the end are left out."""
        given = [self._band(order) for order in range(1, MAX_BANDS + 1)]
        while given and given[-1] == BandText("", None, ""):
            given.pop()
        return given

    def _band(self, order: int) -> BandText:
        cell = {part: self.cleaned_data[f"{part}_{order}"] for part in ("name", "upper", "suits", "mass")}
        return BandText(cell["name"], cell["upper"], cell["suits"], cell["mass"])


class ReferencesForm(forms.Form):
    """Reference shoes with the scores they are to have: picked, pasted or sent as a file."""

    revision = forms.IntegerField(widget=forms.HiddenInput)
    table = forms.CharField(
        label="Or a table",
        required=False,
        max_length=CSV_LENGTH,
        help_text="CSV: a header line such as shoe,stability,midfoot,rearfoot,cushioning, then one line per shoe.",
        widget=forms.Textarea(attrs={"rows": 6, "spellcheck": "false"}),
    )
    file = forms.FileField(label="Or a file with such a table", required=False)

    def __init__(self, *args: Any, readings: Sequence[ReferenceReading], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shoes = [("", "none"), *((reading.slug, reading.title) for reading in readings)]
        for number in range(1, REFERENCE_ROWS + 1):
            self.fields[f"shoe_{number}"] = forms.ChoiceField(label="Reference shoe", required=False, choices=shoes)
            for score in TARGETS:
                self.fields[f"{score}_{number}"] = _number(score.capitalize(), required=False)

    def rows(self) -> list[tuple[int, forms.BoundField, list[forms.BoundField]]]:
        return [
            (number, self[f"shoe_{number}"], [self[f"{score}_{number}"] for score in TARGETS])
            for number in range(1, REFERENCE_ROWS + 1)
        ]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        file = cleaned.get("file")
        if file is not None:
            try:
                cleaned["table"] = file.read(CSV_LENGTH + 1).decode("utf-8-sig")
            except UnicodeDecodeError:
                self.add_error("file", "The file must be a CSV table in UTF-8.")
            if len(cleaned["table"]) > CSV_LENGTH or "\x00" in cleaned["table"]:
                self.add_error("file", f"The file must be text of at most {CSV_LENGTH} characters.")
        if not self.errors and not cleaned.get("table", "").strip() and not self.picked(cleaned):
            self.add_error("table", "Pick reference shoes, or give a table of them.")
        return cleaned

    def picked(self, cleaned: Mapping[str, Any]) -> list[Target]:
        return [
            Target(cleaned[f"shoe_{number}"], **{score: cleaned.get(f"{score}_{number}") for score in TARGETS})
            for number in range(1, REFERENCE_ROWS + 1)
            if cleaned.get(f"shoe_{number}")
        ]


class AdoptForm(forms.Form):
    """An adoption, as it was previewed."""

    revision = forms.IntegerField(widget=forms.HiddenInput)
    reason = _reason("Why it is adopted", "It stays with the model and in the audit trail.")
    withdraw = forms.BooleanField(label="The shoes named above may leave the catalogue", required=False)
