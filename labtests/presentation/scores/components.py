"""What the pages of variance components and of the planner show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.domain.coverage import whole_df
from core.web import display
from labtests.domain.uncertainty.components import Homogeneity
from labtests.domain.uncertainty.planner import SPECIMENS, Plan
from labtests.domain.uncertainty.reading_squares import by_model, squares_of_scatter
from labtests.domain.uncertainty.scatter import Scatter
from labtests.models import Level
from labtests.presentation.bench_tests import SCORE_WORDS, limited_text
from labtests.presentation.links import link_to
from labtests.presentation.plots import Plot, plot_of
from labtests.selectors.scores.components import Components, PooledComponent, RigScatter

RARE = 0.05
SHOWN = 60
"""At most so many shoes are drawn; more are thinned out evenly from the least to the most scatter."""


@dataclass(frozen=True, slots=True)
class ComponentLine:
    """One level of one score: s with its interval, what it comes from, the estimate as it is (maybe < 0), the test."""

    score: str
    sd: str
    interval: str
    shoes: int
    df: str
    raw: str
    alike: str


@dataclass(frozen=True, slots=True)
class LevelSheet:
    """One level of all scores, drawn for stability (None where no shoe has one)."""

    title: str
    lines: tuple[ComponentLine, ...]
    plot: Plot | None


@dataclass(frozen=True, slots=True)
class PartOfRig:
    """One part of a rig's scatter in points of stability, with a link to its data."""

    source: str
    sd: str
    df: str
    link: tuple[str, str] | None


@dataclass(frozen=True, slots=True)
class RigLine:
    """A rig and what is known of it; `has_setups` is false where nothing is known of its days and set-ups yet."""

    code: str
    parts: tuple[PartOfRig, ...]
    has_setups: bool


def level_sheets(found: Components) -> tuple[LevelSheet, ...]:
    """A sheet for each level of pooled components."""
    sheets = []
    for level in Level:
        own = [one for one in found.pooled if one.level == level]
        lines = tuple(_line(one) for one in own if one.found is not None)
        sheets.append(LevelSheet(str(level.label).capitalize(), lines, _plot(own[0])))
    return tuple(sheets)


def _line(one: PooledComponent) -> ComponentLine:
    found = one.found
    if found is None:
        raise AssertionError("a line is of a component that is known")
    return ComponentLine(
        score=SCORE_WORDS[one.score][0],
        sd=display.number(found.variance**0.5, 2),
        interval=f"{display.number(found.sd.low, 2)} to {display.number(found.sd.high, 2)}",
        shoes=found.shoes,
        df=display.number(found.df, 0),
        raw=display.number(found.raw, 3),
        alike=alike_text(one.alike),
    )


def alike_text(alike: Homogeneity) -> str:
    """Say what the test of equal variances found."""
    if alike.p is None:
        return "too few to compare"
    p = f"p = {display.number(alike.p, 3)}" if alike.p >= 0.001 else "p < 0.001"
    verdict = "they differ" if alike.p < RARE else "no difference found"
    return f"{verdict} ({p}, {alike.groups} compared)"


def _plot(one: PooledComponent) -> Plot | None:
    if one.found is None or not len(one.spread):
        return None
    ordered = np.sort(one.spread)
    at = np.unique(np.linspace(0, len(ordered) - 1, SHOWN).round().astype(int))
    places, values = (at + 1).tolist(), ordered[at].tolist()
    pooled = one.found.mean_square**0.5
    axes = ("shoes, from the least scatter to the most", "s of stability, points")
    plot = plot_of("Scatter of single shoes", axes, [0, *places], [0.0, *values, pooled])
    for place, value in zip(places, values, strict=True):
        plot.mark(place, value, f"shoe {place} of {len(ordered)}: s = {display.number(value, 2)}")
    plot.level(pooled, "pooled over all shoes", label="pooled")
    return plot


def rig_lines(found: Components) -> tuple[RigLine, ...]:
    """Each rig with the parts of its scatter, in points of stability."""
    weights = by_model(found.model.to_domain())["stability"]

    def part(scatter: Scatter, source: str) -> PartOfRig:
        sd = max(0.0, float(weights @ squares_of_scatter(scatter))) ** 0.5
        return PartOfRig(source, display.number(sd, 2), limited_text(whole_df(scatter.df)), link_to(scatter.link))

    def line(rig: RigScatter) -> RigLine:
        repeats = (part(rig.repeats, "single repeats, pooled over its tests"),) if rig.repeats else ()
        setups = tuple(part(scatter, scatter.origin) for scatter in rig.setups)
        return RigLine(rig.rig.code, (*repeats, *setups), bool(setups))

    return tuple(line(rig) for rig in found.rigs)


@dataclass(frozen=True, slots=True)
class PlanTable:
    """U by number of specimens (rows) and repeats (columns); each cell with whether it reaches the wanted U."""

    repeats: tuple[int, ...]
    rows: tuple[tuple[int, tuple[tuple[int, str, bool], ...]], ...]
    sentence: str


def plan_table(found: Plan, wanted: float, score: str) -> PlanTable:
    """Arrange a plan's choices, and say the least of them in a sentence."""
    repeats = tuple(dict.fromkeys(choice.repeats for choice in found.choices))
    rows = tuple(
        (
            count,
            tuple(
                (choice.repeats, display.number(choice.expanded, 2), choice.expanded <= wanted)
                for choice in found.choices
                if choice.specimens == count
            ),
        )
        for count in dict.fromkeys(choice.specimens for choice in found.choices)
    )
    name = SCORE_WORDS[score][0].lower()
    aim = f"± {display.number(wanted, 2)} in {name}"
    if found.least is None:
        return PlanTable(
            repeats,
            rows,
            f"Even {max(SPECIMENS)} specimens do not reach {aim}. Calibrations and the day leave "
            f"± {display.number(found.floor, 2)}, however much is tested. Better calibrations or more days are needed.",
        )
    least = found.least
    specimens = display.count(least.specimens, "specimen")
    each = display.count(least.repeats, "repeat")
    return PlanTable(repeats, rows, f"{specimens} of {each} each reach {aim}: U = {display.number(least.expanded, 2)}.")
