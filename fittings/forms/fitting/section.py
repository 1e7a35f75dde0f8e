"""What the sections of a fitting's page have in common: their forms are checked and stored together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, ClassVar

from django import forms

from core.web.display import IMPERIAL, METRIC
from fittings.forms.fields import MeasureField
from fittings.models import SectionName

UNITS = "units"
"""The field of the page that says in which system of units its numbers are written."""


class SectionForm(forms.Form):
    """What the forms of the sections have in common: everything may be left out."""

    all_optional = True

    def __init__(self, data: Mapping[str, Any] | None = None, **options: Any) -> None:
        super().__init__(data, **options)
        system = IMPERIAL if (data or {}).get(UNITS) == IMPERIAL else METRIC
        for field in self.fields.values():
            if isinstance(field, MeasureField):
                field.use_units(system)


class Section:
    """The forms of one section, checked together."""

    name: ClassVar[SectionName]
    defaults: ClassVar[Mapping[str, str]] = {}

    def __init__(self, data: Mapping[str, Any] | None = None) -> None:
        self.forms: list[forms.Form] = list(self.make(self.defaults if data is None else data))
        self._in_order: bool | None = None

    def make(self, data: Mapping[str, Any] | None) -> Iterable[forms.Form]:
        raise NotImplementedError

    def is_valid(self) -> bool:
        """Check the section, once however often it is asked."""
        if self._in_order is None:
            self._in_order = self.check()
        return self._in_order

    def check(self) -> bool:
        # Each is asked, so that every problem is shown at once.
        return all([form.is_valid() for form in self.forms])  # noqa: C419

    def content(self) -> dict[str, str | list[str]]:
        """What was written, in the units stored: names and texts of the fields that are not empty."""
        written: dict[str, str | list[str]] = {}
        for form in self.forms:
            for name, field in form.fields.items():
                key = form.add_prefix(name)
                value = field.widget.value_from_datadict(form.data, form.files, key)
                if isinstance(field, MeasureField) and isinstance(value, str):
                    value = field.as_stored(value)
                if value:
                    written[key] = value if isinstance(value, list) else str(value)
        return written

    def problem_count(self) -> int:
        return sum(len(words) for form in self.forms for words in form.errors.values())


def in_units(kind: type[Section], content: Mapping[str, Any], system: str) -> Mapping[str, Any]:
    """What is stored of a section, as it is written in a system of units."""
    if system != IMPERIAL:
        return content
    shown = dict(content) | {UNITS: IMPERIAL}
    for form in kind(shown).forms:
        for name, field in form.fields.items():
            key = form.add_prefix(name)
            if isinstance(field, MeasureField) and isinstance(content.get(key), str):
                shown[key] = field.as_written(content[key])
    return shown
