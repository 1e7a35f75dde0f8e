"""Forms of uploads: several files at once, and a test typed in by hand. Shape only; the rules are in the services."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from core.domain.figures import grouped
from core.domain.units import units_of
from core.models import printable
from labtests.domain.files.archive import MAX_FILES
from labtests.domain.files.handwritten import RepeatTyped, TestTyped
from labtests.domain.files.problems import Problem
from labtests.forms.shoes import ShoeField
from labtests.models import Rig
from labtests.models.specimens import Side

ROWS, MOST_ROWS, MORE_ROWS = 3, 30, 3
TEXT_LENGTH = 64
SIGNS = {"N*m": "N·m", "in*lbf": "in·lbf", "degC": "°C", "degF": "°F"}


class FilesInput(forms.ClearableFileInput):
    allow_multiple_selected = True


class FilesField(forms.FileField):
    """One or several files; the cleaned value is a list."""

    widget = FilesInput

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile[Any]]:
        given = data if isinstance(data, list | tuple) else [data]
        return [super(FilesField, self).clean(one, initial) for one in given or [None]]


class UploadsForm(forms.Form):
    """The files, previewed before any is stored."""

    file = FilesField(
        label="Bench files, readings files or ZIPs of them",
        help_text="One or several. CSV in UTF-8, up to 20 MB per file; a ZIP of up to "
        f"{grouped(MAX_FILES)} files; 50 MB in all.",
        allow_empty_file=True,
        max_length=None,
    )


def _text(label: str, *, required: bool = True, length: int = TEXT_LENGTH, hint: str = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        required=required,
        max_length=length,
        help_text=hint,
        validators=[printable],
        widget=forms.TextInput(attrs={"autocapitalize": "none", "autocomplete": "off", "spellcheck": "false"}),
    )


def _figure(label: str, *, required: bool = True, hint: str = "") -> forms.CharField:
    """A number, as it was typed: the reader of readings files judges it."""
    field = _text(label, required=required, length=30, hint=hint)
    field.widget.attrs |= {"inputmode": "decimal"}
    return field


def _unit(label: str, quantity: str) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=[(unit, SIGNS.get(unit, unit)) for unit in units_of(quantity)])


class HandForm(forms.Form):
    """A test of a rig without a computer: who, what, how, and the readings of each repeat."""

    shoe = ShoeField(label="Shoe", help_text="Brand, name and version.")
    specimen = _text("Specimen")
    size = _text("Size EU", hint="Such as 42.5.")
    side = forms.ChoiceField(label="Side", choices=Side.choices, widget=forms.RadioSelect)
    rig = forms.ModelChoiceField(Rig.objects.all(), label="Rig", to_field_name="code", empty_label=None)
    operator = _text("Operator", length=150, hint="Sign-in name of who carried it out.")
    performed = forms.DateTimeField(
        label="Performed",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    conditioned = _figure("Conditioned, h", hint="Where the conditioning log has other hours, the log counts.")
    temperature = _figure("Midsole temperature")
    temperature_unit = _unit("Temperature in", "temperature")
    heel_clamp = _figure("Heel clamp")
    forefoot_clamp = _figure("Forefoot clamp")
    clamp_unit = _unit("Clamps in", "force")
    worn = _figure("Worn, km", required=False)
    mass = _figure("Mass, g", required=False)
    torque_unit = _unit("Torque in", "torque")
    deflection_unit = _unit("Deflection in", "length")

    def __init__(self, *args: Any, rows: int = ROWS, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = max(1, min(rows, MOST_ROWS))
        for row in range(1, self.rows + 1):
            self.fields[f"torque_15_{row}"] = _figure(f"Torque, repeat {row}", required=False)
            self.fields[f"deflection_{row}"] = _figure(f"Deflection, repeat {row}", required=False)

    def repeats(self) -> list[tuple[int, forms.BoundField, forms.BoundField]]:
        return [(row, self[f"torque_15_{row}"], self[f"deflection_{row}"]) for row in range(1, self.rows + 1)]

    def _used(self) -> list[int]:
        """Rows with anything in them."""
        read = self.cleaned_data
        return [row for row in range(1, self.rows + 1) if read.get(f"torque_15_{row}") or read.get(f"deflection_{row}")]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if not self._used():
            self.add_error("torque_15_1", "Enter the readings of at least one repeat.")
        return cleaned

    def typed(self) -> TestTyped:
        """What was typed, as the writer of readings files takes it."""
        read = self.cleaned_data
        return TestTyped(
            shoe=read["shoe"],
            specimen=read["specimen"],
            size=f"EU {read['size'].upper().removeprefix('EU').strip()}",
            side=read["side"],
            rig=read["rig"].code,
            operator=read["operator"],
            performed=read["performed"].isoformat(),
            conditioned_h=read["conditioned"],
            temperature=read["temperature"],
            temperature_unit=read["temperature_unit"],
            heel_clamp=read["heel_clamp"],
            forefoot_clamp=read["forefoot_clamp"],
            clamp_unit=read["clamp_unit"],
            torque_unit=read["torque_unit"],
            deflection_unit=read["deflection_unit"],
            worn_km=read["worn"],
            mass_g=read["mass"],
            repeats=tuple(RepeatTyped(read[f"torque_15_{row}"], read[f"deflection_{row}"]) for row in self._used()),
        )

    def add_problems(self, problems: Sequence[Problem], typed: TestTyped) -> None:
        """Put what is wrong with the file beside the fields that it came from, each sentence once."""
        used = self._used()
        seen: set[tuple[str | None, str]] = set()
        for problem in problems:
            repeat = typed.repeat_on(problem.line)
            name: str | None = problem.column
            if problem.column in ("torque_15", "deflection") and repeat is not None:
                name = f"{problem.column}_{used[repeat]}"
            if name not in self.fields:
                name = None
            if (name, problem.problem) not in seen:
                seen.add((name, problem.problem))
                self.add_error(name, problem.problem)
