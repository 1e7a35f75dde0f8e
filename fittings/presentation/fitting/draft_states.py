"""The state of a section, in a word and a sentence: written or not, saved or not, and what to do about it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from core.web.display import METRIC
from fittings.forms.fitting.section import UNITS, Section, in_units
from fittings.forms.fitting.sections import SECTIONS
from fittings.models import DraftSection, SectionName
from fittings.selectors.fitting.drafts import DraftState
from fittings.services.fitting.draft import SectionChanged

TITLES: dict[str, str] = {
    SectionName.PERSON: "Customer and consent",
    SectionName.INTAKE: "Intake",
    SectionName.STOP_SIGNS: "Stop signs",
    SectionName.OBSERVATION: "Observation",
    SectionName.FEET: "Feet",
    SectionName.TRY_ONS: "Try-ons",
    SectionName.LOOKS: "Looks in motion",
    SectionName.CHOICE: "Choice",
}
# Need and match stand between the feet and the try-ons, and are worked out, not written.
NUMBERS = dict(zip(SECTIONS, (1, 2, 3, 4, 5, 8, 9, 10), strict=True))


@dataclass(frozen=True, slots=True)
class Difference:
    """One field that two people filled in differently."""

    field: str
    theirs: str
    mine: str


@dataclass(frozen=True, slots=True)
class SectionStanding:
    """What is said beside a section's heading. `version` is the one that the page was written over."""

    kind: str
    mark: str
    words: str
    version: int = 0
    theirs: int = 0
    differences: tuple[Difference, ...] = ()


@dataclass(frozen=True, slots=True)
class SectionView:
    """A section as its template takes it."""

    name: str
    title: str
    number: int
    template: str
    forms: Section
    standing: SectionStanding


def section_view(forms: Section, standing: SectionStanding) -> SectionView:
    name = forms.name.value
    return SectionView(name, TITLES[name], NUMBERS[name], f"fittings/_section_{name}.html", forms, standing)


def empty() -> SectionStanding:
    return SectionStanding("empty", "", "Empty")


def saved(section: DraftSection, actor: Any) -> SectionStanding:
    who = "you" if section.saved_by_id == actor.pk else section.saved_by.display_name
    words = f"Saved {moment_words(section.saved_at)} by {who}"
    return SectionStanding("saved", "state--good", words, section.version)


def moment_words(at: dt.datetime) -> str:
    local = timezone.localtime(at)
    return f"{local:%H:%M}" if local.date() == timezone.localdate() else f"{local.day} {local:%b %H:%M}"


def as_kept(state: DraftState, name: str, actor: Any) -> SectionStanding:
    section = state.sections.get(name)
    return saved(section, actor) if section else empty()


def refused(forms: Section, version: int) -> SectionStanding:
    count = forms.problem_count()
    words = f"Not saved: {count} {'thing' if count == 1 else 'things'} to correct"
    return SectionStanding("refused", "state--stop", words, version)


def held() -> SectionStanding:
    return SectionStanding("held", "state--wait", "Not stored: no consent yet")


def unsaved(version: int) -> SectionStanding:
    return SectionStanding("unsaved", "state--wait", "Not saved yet", version)


def changed(problem: SectionChanged, forms: Section, version: int) -> SectionStanding:
    theirs = problem.theirs
    return SectionStanding(
        "changed", "state--stop", problem.message, version, theirs.version, _differences(forms, theirs.content)
    )


def _differences(mine: Section, content: Mapping[str, Any]) -> tuple[Difference, ...]:
    """The fields that differ, in the words of the page."""
    kind = SECTIONS[mine.name.value]
    theirs = kind(in_units(kind, content, mine.forms[0].data.get(UNITS, METRIC)))
    differences = []
    for one, other in zip(mine.forms, theirs.forms, strict=True):
        for name in one.fields:
            # Marks on a picture mean nothing to a reader; the value that follows from them is a field of its own.
            if name == "marks":
                continue
            texts = (_text(other, name), _text(one, name))
            if texts[0] != texts[1]:
                differences.append(Difference(str(one.fields[name].label), *texts))
    return tuple(differences)


def _text(form: Any, name: str) -> str:
    value = form[name].value()
    choices = dict(getattr(form.fields[name], "choices", ()))
    values = value if isinstance(value, list) else [value]
    return ", ".join(str(choices.get(item, item)) for item in values if item not in (None, "")) or "nothing"
