"""What was measured on a picture, in words: value, repeat error, published error, and the grade proposed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from core.web.display import NO_BREAK, number
from fittings.domain.fitting.angles import KINDS, PLACES, MeasuredTwice
from fittings.domain.fitting.grading import MEASURED, grade_of
from fittings.domain.fitting.need import GRADE_WORDS
from fittings.models import PictureAngle
from fittings.presentation.outcomes.measured_agreement import PUBLISHED
from fittings.selectors.fitting.cutoffs import CurrentCutoffs
from fittings.selectors.fitting.repeat_errors import RepeatError

_PUBLISHED = {
    "rearfoot_eversion": ("Rearfoot eversion on running video", "Rearfoot angle standing"),
    "ankle_dorsiflexion": ("Shank and foot angles on running video",),
    "navicular_drop": ("Navicular drop", "Navicular drop, raters new to it"),
}
NOT_DEGREES = (
    "No published standard error in degrees is known to us for this angle on a picture: compare two looks of "
    "your own before you trust a small difference."
)


@dataclass(frozen=True, slots=True)
class AngleLines:
    """A measure in words. `value` is what the field takes; `grade` is empty where none follows from it."""

    kind: str
    label: str
    field: str
    value: str
    words: str
    grade: str
    thresholds: str
    own_error: str
    published: tuple[tuple[str, str], ...]
    note: str


def angle_lines(measured: MeasuredTwice, cutoffs: CurrentCutoffs, own: RepeatError) -> AngleLines:
    kind = KINDS[measured.kind]
    value = round(measured.mean, PLACES)
    grade, thresholds = _grade(measured.kind, value, cutoffs)
    return AngleLines(
        kind=kind.name,
        label=kind.label,
        field=kind.field,
        value=f"{value + 0.0:.{PLACES}f}",
        words=f"{in_unit(kind.name, value)}; the two readings are {in_unit(kind.name, measured.apart)} apart",
        grade=grade,
        thresholds=thresholds,
        own_error=_own_error(kind.name, own),
        published=tuple((words, source) for what, words, source in PUBLISHED if what in _PUBLISHED[kind.name]),
        note=NOT_DEGREES if kind.name == "rearfoot_eversion" else "",
    )


def in_unit(kind: str, value: float) -> str:
    """A value with one digit after the point and its unit."""
    unit = KINDS[kind].unit
    return f"{number(value, PLACES)}{unit if unit == '°' else NO_BREAK + unit}"


def _grade(kind: str, value: float, cutoffs: CurrentCutoffs) -> tuple[str, str]:
    if kind not in MEASURED:
        return "", ""
    grade = grade_of(kind, value, cutoffs.cutoffs)
    begins = getattr(cutoffs.cutoffs, kind)
    steps = ", ".join(f"{GRADE_WORDS[step + 1]} from {number(begin, PLACES)}°" for step, begin in enumerate(begins))
    return f"{grade} {GRADE_WORDS[grade]}", f"{steps} (cut-offs {cutoffs.cutoffs.name}: {cutoffs.source})"


def _own_error(kind: str, own: RepeatError) -> str:
    if own.error is None:
        return f"Your stores’ own repeat error: too few pairs of readings yet ({own.pairs})."
    return (
        f"Your stores’ own repeat error: {in_unit(kind, own.error)} (standard deviation of one reading, "
        f"{own.pairs} pairs on one picture). Other pictures and other people add to it."
    )


@dataclass(frozen=True, slots=True)
class PictureAngleLine:
    """A measure of a finished fitting: its number, what and foot, and the value with its repeat error."""

    number: int
    what: str
    value: str


def picture_angle_lines(rows: Iterable[PictureAngle]) -> tuple[PictureAngleLine, ...]:
    return tuple(
        PictureAngleLine(
            row.pk,
            f"{KINDS[row.kind].label}, {row.foot}",
            f"{in_unit(row.kind, row.mean)}, two readings {in_unit(row.kind, row.apart)} apart",
        )
        for row in rows
    )
