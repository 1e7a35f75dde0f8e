"""What the pages on scoring models show, worded and rounded before the template."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from core.domain import figures
from core.domain.figures import grouped
from core.web import display
from labtests.domain.scores.bands import Band
from labtests.domain.scores.model_fit import ModelFit, Parameter, PartFit
from labtests.domain.scores.rescore import BandChanges
from labtests.presentation.bench_tests import SCORE_WORDS, StateBadge
from labtests.presentation.scores.model_drawings import ResidualDrawing, residual_drawing
from labtests.selectors.scores.rescoring import DryRun, ShoeChange
from labtests.selectors.scores.scoring_models import CURRENT, DISCARDED, DRAFT, EARLIER, ModelView

STATES = {
    CURRENT: StateBadge("in use", "state--good"),
    DRAFT: StateBadge("draft", "state--wait"),
    EARLIER: StateBadge("earlier", "state--off"),
    DISCARDED: StateBadge("discarded", "state--off"),
}
ANCHORS = (
    ("Midfoot: torque", "torque_0_nm", "torque_100_nm", "N·m"),
    ("Rearfoot: deflection", "deflection_0_mm", "deflection_100_mm", "mm"),
    ("Cushioning: work", "work_0_j", "work_100_j", "J"),
)
PARAMETERS = {
    "torque_0_nm": "Torque at 0",
    "torque_100_nm": "Torque at 100",
    "deflection_0_mm": "Deflection at 0",
    "deflection_100_mm": "Deflection at 100",
    "work_0_j": "Work at 0",
    "work_100_j": "Work at 100",
    "weight_midfoot": "Weight of midfoot",
    "weight_rearfoot": "Weight of rearfoot",
}


def figure(value: float) -> str:
    """A number of a model with all the digits that matter."""
    return figures.figure(value, 7)


@dataclass(frozen=True, slots=True)
class ModelLine:
    """A model in the list."""

    version: str
    badge: StateBadge
    author: str
    date: str
    reason: str
    adopted: str


def model_line(view: ModelView) -> ModelLine:
    return ModelLine(
        version=view.version,
        badge=STATES[view.state],
        author=view.author,
        date=display.day(view.draft.created_at if view.draft else view.numbers.created_at),
        reason=view.numbers.reason,
        adopted=f"{display.day(view.adoption.at)}, {view.adoption.by.display_name}" if view.adoption else "",
    )


def anchor_rows(view: ModelView) -> list[tuple[str, str, str]]:
    numbers = view.numbers
    return [
        (words, f"{figure(getattr(numbers, at_0))} {unit}", f"{figure(getattr(numbers, at_100))} {unit}")
        for words, at_0, at_100, unit in ANCHORS
    ]


def weights(view: ModelView) -> str:
    numbers = view.numbers
    return f"{figure(numbers.weight_midfoot)} × midfoot + {figure(numbers.weight_rearfoot)} × rearfoot"


def guard(view: ModelView) -> str:
    width = view.numbers.guard_band
    if width == 0.0:
        return "No guard band: a score on either side of a limit counts as within its band."
    points = "1 point" if width == 1.0 else f"{figure(width)} points"
    return f"Guard band: a score nearer than {points} to a limit does not count as within its band and is borderline."


@dataclass(frozen=True, slots=True)
class BandLine:
    """A band in words."""

    order: int
    name: str
    reach: str
    suits: str
    mass: str


def band_lines(bands: Iterable[dict[str, Any]]) -> list[BandLine]:
    return [
        BandLine(
            order=band["order"],
            name=band["name"],
            reach=_reach(band["lower"], band["upper"]),
            suits=band["suits"],
            mass=f"{band['runner_mass_max_kg']:g} kg" if band["runner_mass_max_kg"] else "",
        )
        for band in bands
    ]


def _reach(lower: float | None, upper: float | None) -> str:
    if lower is None:
        return f"below {figure(upper)}" if upper is not None else "any"
    return f"{figure(lower)} and more" if upper is None else f"{figure(lower)} to below {figure(upper)}"


@dataclass(frozen=True, slots=True)
class FitPart:
    """One fitted score: its numbers with their errors, its residuals, and a drawing of them."""

    title: str
    summary: str
    parameters: list[tuple[str, str, str, str]]
    residuals: list[tuple[str, str, str, str]]
    drawing: ResidualDrawing


def fit_parts(fit: ModelFit) -> list[FitPart]:
    return [_fit_part(part) for part in fit.parts]


def _fit_part(part: PartFit) -> FitPart:
    return FitPart(
        title=SCORE_WORDS[part.score][0],
        summary=(
            f"{display.count(part.n, 'shoe')}, {display.count(part.df, 'degree')} of freedom; residuals scatter by "
            f"{display.number(part.residual_sd, 2)} points"
        ),
        parameters=[
            (
                PARAMETERS[found.name],
                _with_unit(found.value, found.unit),
                _with_unit(found.standard_error, found.unit, digits=2),
                _interval(found),
            )
            for found in part.parameters
        ],
        residuals=[
            (row.shoe, display.number(row.reference), display.number(row.fitted), display.signed(row.residual, 2))
            for row in sorted(part.residuals, key=lambda row: row.fitted)
        ],
        drawing=residual_drawing(part),
    )


def _interval(found: Parameter) -> str:
    """Write an interval to the second digit of the standard error: further ones say nothing."""
    error = found.standard_error
    if not (math.isfinite(error) and error > 0.0):
        return f"{figure(found.interval.low)} to {_with_unit(found.interval.high, found.unit)}"
    decimals = max(0, 1 - math.floor(math.log10(error)))
    low, high = (display.number(end, decimals) for end in (found.interval.low, found.interval.high))
    return f"{low} to {high}" if found.unit == "1" else f"{low} to {high} {found.unit}"


def _with_unit(value: float, unit: str, digits: int = 7) -> str:
    text = figures.figure(value, digits)
    return text if unit == "1" else f"{text} {unit}"


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """A shoe before and after; `number` is that of its line in the drawing."""

    number: int | None
    slug: str
    title: str
    now: str
    now_band: tuple[int, str]
    then: str
    then_band: tuple[int, str] | None
    difference: str
    note: str


def change_lines(shoes: Sequence[ShoeChange], *, numbered: bool = False) -> list[ChangeLine]:
    return [_change_line(shoe, place if numbered else None) for place, shoe in enumerate(shoes, start=1)]


def _change_line(shoe: ShoeChange, number: int | None) -> ChangeLine:
    now, then = shoe.now, shoe.then
    return ChangeLine(
        number=number,
        slug=now.slug,
        title=now.title,
        now=display.number(now.stability),
        now_band=(now.band, now.band_name),
        then=display.number(then.values["stability"]) if then else display.MISSING,
        then_band=(then.band, then.band_name) if then else None,
        difference=display.signed(shoe.difference) if then else display.MISSING,
        note=_note(shoe),
    )


def _note(shoe: ShoeChange) -> str:
    if shoe.then is None:
        return " ".join(shoe.refusals)
    notes = []
    if shoe.then.specimens != shoe.now.specimens:
        notes.append(f"{display.count(shoe.then.specimens, 'specimen')}, published from {shoe.now.specimens}")
    if shoe.then.is_borderline:
        notes.append("borderline")
    return ", ".join(notes)


@dataclass(frozen=True, slots=True)
class ChangeMatrix:
    """How many tests go from which band to which."""

    columns: list[str]
    rows: list[tuple[str, list[str]]]
    summary: str


def change_matrix(changes: BandChanges, old: Sequence[Band], new: Sequence[Band]) -> ChangeMatrix:
    rows = [
        (band.name, [grouped(count) for count in counts])
        for band, counts in zip(old, changes.counts.tolist(), strict=True)
    ]
    summary = f"{display.count(changes.n, 'test')}, {grouped(changes.changed)} of them in another band"
    return ChangeMatrix([band.name for band in new], rows, summary)


def run_summary(run: DryRun) -> list[tuple[str, str]]:
    """The dry run in a few figures."""
    differences = [shoe.difference for shoe in run.shoes if shoe.difference is not None]
    facts = [
        ("Tests rescored", grouped(len(run.tests))),
        ("Tests in another band", grouped(run.rescored.changes.changed)),
        ("Published shoes", grouped(len(run.shoes))),
        ("Shoes in another band", grouped(len(run.changing))),
        ("Shoes that would leave the catalogue", grouped(len(run.refused))),
    ]
    if differences:
        reach = f"{display.signed(min(differences))} to {display.signed(max(differences))}"
        facts.append(("Stability changes by", reach))
    return facts
