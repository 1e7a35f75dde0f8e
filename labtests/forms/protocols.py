"""Forms of the pages on protocols: shape and choices only; the rules are in the services."""

from __future__ import annotations

from typing import Any

from django import forms

from labtests.domain.scores.protocol import Limit
from labtests.forms.bench_tests import REASON_LENGTH
from labtests.models import CalibratedQuantity, Protocol, ProtocolDraft
from labtests.models.adoptions import version_shape
from labtests.models.methods import VERSION_LENGTH
from labtests.services import ProtocolGiven

# Condition, words, unit, whether its range is open above.
CONDITIONS = (
    ("temperature_c", "Temperature", "°C"),
    ("heel_clamp_n", "Heel clamp", "N"),
    ("forefoot_clamp_n", "Forefoot clamp", "N"),
)
PARTS = {"low": "from", "nominal": "nominal", "high": "to"}


def _number(label: str) -> forms.FloatField:
    return forms.FloatField(label=label, widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}))


def _reason(label: str) -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=REASON_LENGTH,
        help_text="It stays with the protocol and in the audit trail.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class ProtocolForm(forms.Form):
    """What a draft of a protocol says."""

    conditioned_h = _number("Conditioning time, at least (h)")
    torsion_deg = _number("Twist angle (°)")
    compression_n = _number("Compression load (N)")
    repeats_wanted = forms.IntegerField(label="Repeats wanted", help_text="A test with fewer is held.")
    calibrations = forms.MultipleChoiceField(
        label="Calibrations needed", choices=CalibratedQuantity.choices, widget=forms.CheckboxSelectMultiple
    )
    reason = _reason("Why another protocol")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, words, unit in CONDITIONS:
            for part, label in PARTS.items():
                self.fields[f"{name}_{part}"] = _number(f"{words}, {label} ({unit})")
        ranges = [f"{name}_{part}" for name, _, _ in CONDITIONS for part in PARTS]
        self.order_fields(["version", "conditioned_h", *ranges])

    def given(self) -> ProtocolGiven:
        """What the service takes."""
        read = self.cleaned_data
        limits = {name: Limit(**{part: read[f"{name}_{part}"] for part in PARTS}) for name, _, _ in CONDITIONS}
        hours = read["conditioned_h"]
        return ProtocolGiven(
            conditioned_h=Limit(hours, hours, None),
            torsion_deg=read["torsion_deg"],
            compression_n=read["compression_n"],
            repeats_wanted=read["repeats_wanted"],
            calibrations=tuple(read["calibrations"]),
            **limits,
        )


class NewProtocolForm(ProtocolForm):
    """A draft to begin."""

    version = forms.CharField(
        label="Name of the draft",
        max_length=VERSION_LENGTH,
        validators=[version_shape],
        help_text="It becomes the name of the protocol and never changes: such as P2.",
    )


class EditProtocolForm(ProtocolForm):
    """A draft to change, as its author saw it."""

    revision = forms.IntegerField(widget=forms.HiddenInput)


class AdoptProtocolForm(forms.Form):
    """Taking a draft into use, as it was previewed."""

    revision = forms.IntegerField(widget=forms.HiddenInput)
    withdraw = forms.BooleanField(
        label="The shoes named above leave the catalogue until they are tested by the new protocol", required=False
    )
    reason = _reason("Why it is adopted")


def initial_of(source: Protocol | ProtocolDraft) -> dict[str, Any]:
    """The values of a form that begins with a protocol's or a draft's numbers."""
    limits = {f"{name}_{part}": _shown(source.limits[name][part]) for name, _, _ in CONDITIONS for part in PARTS}
    return {
        **limits,
        "conditioned_h": _shown(source.limits["conditioned_h"]["low"]),
        "torsion_deg": _shown(source.torsion_deg),
        "compression_n": source.compression_n,
        "repeats_wanted": source.repeats_wanted,
        "calibrations": source.calibrations,
    }


def _shown(value: float | None) -> str:
    """Write a number without the last digits that its binary form adds."""
    return "" if value is None else f"{value:.12g}"
