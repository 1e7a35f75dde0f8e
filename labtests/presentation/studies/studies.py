"""What the pages of gauge studies show: progress, what the bench means for a shoe, where readings differ from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from core.domain.figures import grouped
from core.web import display
from labtests.domain.scores.bands import wrong_side_probability
from labtests.domain.studies.gauge import AnovaRow, GaugeStudy, VarianceComponent, gauge_study
from labtests.domain.studies.variance import Interval
from labtests.forms.quantities import PLAIN, Quantity, significant
from labtests.presentation.plots import Plot, plot_of
from labtests.selectors.studies.studies import StudyProgress

# 1.96 √2: two readings of one specimen stay within it in 95 % of cases (ISO 5725-6 rounds it to 2.8).
DIFFERENCE_FACTOR = 2.77
LOWEST_P = 0.0001
# The distance from a band limit, in points, that the first sentence of the page is about.
NEAR_LIMIT = 1.0
SHAPES = ("dot", "dot dot--2", "dot dot--off")


@dataclass(frozen=True, slots=True)
class StudyReading:
    """One reading of a study, in its SI unit."""

    part: str
    operator: str
    value: float


@dataclass(frozen=True, slots=True)
class SourceRow:
    """Where readings differ from: one line of the table, worded."""

    name: str
    sd: str
    interval: str
    share: str
    points: str


@dataclass(frozen=True, slots=True)
class StudySheet:
    """The result of a study as it is shown; `headline` is empty where the readings have no score."""

    unit: str
    n: int
    headline: str
    sources: tuple[SourceRow, ...]
    meaning: tuple[str, ...]
    anova: tuple[tuple[str, ...], ...]
    plot: Plot
    parts: tuple[tuple[str, str, tuple[str, ...]], ...]
    operators: tuple[tuple[str, str], ...]


def study_sheet(
    readings: Sequence[StudyReading], quantity: Quantity, system: str, *, points: float | None = None
) -> StudySheet:
    """Analyse a balanced study.

    Parameters
    ----------
    points : points of stability that one SI unit of the reading is worth; None for readings without a score

    Raises
    ------
    ValueError
        Where the study can't be analysed.
    """
    factor = quantity.scale(system)
    values = [reading.value * factor for reading in readings]
    study = gauge_study([r.part for r in readings], [r.operator for r in readings], values)
    unit = quantity.sign(system)
    parts = sorted({reading.part for reading in readings})
    operators = sorted({reading.operator for reading in readings})
    points_shown = None if points is None else points / factor
    return StudySheet(
        unit=unit,
        n=study.n,
        headline=_headline(study, quantity, points_shown),
        sources=_sources(study, points_shown),
        meaning=_meaning(study, quantity, unit),
        anova=tuple(_anova_row(row) for row in study.anova),
        plot=_plot(readings, (parts, operators), quantity, system),
        parts=tuple(_part_row(n, part, operators, readings, factor) for n, part in enumerate(parts, start=1)),
        operators=tuple((name, _shape_words(place)) for place, name in enumerate(operators)),
    )


def _headline(study: GaugeStudy, quantity: Quantity, points: float | None) -> str:
    if points is None:
        return ""
    chance, low, high = (
        display.percent(wrong_side_probability(NEAR_LIMIT, points * sd))
        for sd in (study.grr.sd, study.grr_sd.low, study.grr_sd.high)
    )
    alone = "" if quantity.kind is None else f", as far as {quantity.label} alone decides"
    return (
        f"A shoe one point from a band limit lands in the wrong band in {chance} of single tests{alone} "
        f"(95{display.NO_BREAK}% interval {low} to {high}; {study.n} readings)."
    )


def _sources(study: GaugeStudy, points: float | None) -> tuple[SourceRow, ...]:
    """Rows from the specimens to the bench as a whole."""
    listed: list[tuple[str, VarianceComponent, Interval]] = [
        ("specimens", study.part, study.part_sd),
        ("operators", study.operator, study.operator_sd),
    ]
    if study.interaction is not None:
        listed.append(("operators, differently by specimen", study.interaction, study.interaction_sd))
    listed.append(("repeated tests by one operator", study.repeatability, study.repeatability_sd))
    listed.append(("the bench as a whole", study.grr, study.grr_sd))
    return tuple(_source_row(name, component, interval, points) for name, component, interval in listed)


def _source_row(name: str, component: VarianceComponent, interval: Interval, points: float | None) -> SourceRow:
    return SourceRow(
        name,
        sd=significant(component.sd, 3),
        interval=f"{significant(interval.low, 3)} to {significant(interval.high, 3)}",
        share=f"{display.number(component.contribution_percent)}{display.NO_BREAK}%",
        points=display.MISSING if points is None else display.number(points * component.sd, 2),
    )


def _meaning(study: GaugeStudy, quantity: Quantity, unit: str) -> tuple[str, ...]:
    apart = significant(DIFFERENCE_FACTOR * study.repeatability.sd, 3)
    unit = f"{display.NO_BREAK}{unit}" if unit else ""
    return (
        f"Two tests of one specimen by one operator differ by less than {apart}{unit}{_of(quantity)} in 95 % of cases.",
        _steps(study),
        *_operators(study, unit),
        _interaction(study, unit),
    )


def _of(quantity: Quantity) -> str:
    return "" if quantity is PLAIN else f" of {quantity.label}"


def _steps(study: GaugeStudy) -> str:
    if study.categories is None or study.category_limits is None:
        return "The bench shows no variation at all, so every difference between the specimens can be detected."
    fewest, most = study.category_limits
    return (
        f"Among these specimens the bench has {display.count(study.categories, 'step')} it can tell apart by single "
        f"tests (1.41 · {significant(study.part.sd, 3)} / {significant(study.grr.sd, 3)}, rounded down; "
        f"95{display.NO_BREAK}% interval {fewest} to {most})."
    )


def _operators(study: GaugeStudy, unit: str) -> tuple[str, ...]:
    """That no difference between the operators is shown, where none is."""
    p = study.interaction_anova[1].p
    if p is None or p <= study.alpha:
        return ()
    words = f"No difference between the operators is shown (p = {_p(p)})."
    return (f"{words} {_could_find(study.could_find_operators, unit)}",)


def _interaction(study: GaugeStudy, unit: str) -> str:
    if study.interaction_p is None:
        return "Repeated tests did not differ, so it can’t be tested whether operators differ by specimen."
    p = _p(study.interaction_p)
    if study.is_pooled:
        words = f"It is not shown that operators differ more on some specimens than on others (p = {p})"
        return f"{words}; that row is left out. {_could_find(study.could_find_interaction, unit)}"
    return f"Operators differ more on some specimens than on others (p = {p}, up to {study.alpha:g} counts)."


def _could_find(sd: float, unit: str) -> str:
    return f"In 8 of 10 such studies it would show from s = {significant(sd, 2)}{unit} on; less can go unnoticed."


def _anova_row(row: AnovaRow) -> tuple[str, ...]:
    return (
        row.source.replace("part", "specimen"),
        str(row.df),
        significant(row.sum_of_squares, 5),
        significant(row.mean_square, 5),
        grouped(significant(row.f)),
        display.MISSING if row.p is None else _p(row.p),
    )


def _p(p: float) -> str:
    return f"< {LOWEST_P:g}" if p < LOWEST_P else f"{p:.4f}"


def _part_row(
    number: int, part: str, operators: Sequence[str], readings: Sequence[StudyReading], factor: float
) -> tuple[str, str, tuple[str, ...]]:
    cells = tuple(
        ", ".join(significant(r.value * factor, 5) for r in readings if (r.part, r.operator) == (part, operator))
        for operator in operators
    )
    return str(number), part, cells


def _shape_words(place: int) -> str:
    return ("dark dots", "lighter dots", "hollow dots")[place % len(SHAPES)]


def _plot(
    readings: Sequence[StudyReading], named: tuple[list[str], list[str]], quantity: Quantity, system: str
) -> Plot:
    parts, operators = named
    factor = quantity.scale(system)
    names = [str(number) for number in range(1, len(parts) + 1)]
    plot = plot_of(
        "Readings by specimen and operator",
        ("specimen", quantity.axis(system)),
        (),
        [reading.value * factor for reading in readings],
        names=names,
    )
    for place, operator in enumerate(operators):
        # Operators are drawn side by side at each specimen; the line joins the means of one operator.
        aside = (place - (len(operators) - 1) / 2) * 0.6 / len(operators)
        means = []
        for number, part in enumerate(parts, start=1):
            own = [r.value * factor for r in readings if (r.part, r.operator) == (part, operator)]
            for value in own:
                title = f"{part} by {operator}: {significant(value, 5)}"
                plot.mark(number + aside, value, title, css=SHAPES[place % len(SHAPES)])
            means.append((number + aside, sum(own) / len(own)))
        plot.line(means, f"means of {operator}", css="plot__quiet")
    return plot


@dataclass(frozen=True, slots=True)
class ProgressTable:
    """Which tests a study has: a row a specimen, a cell an operator (done, wanted, the tests)."""

    operators: tuple[str, ...]
    rows: tuple[tuple[str, tuple[tuple[str, str, str, str, tuple[int, ...]], ...]], ...]
    next_up: tuple[str, ...]
    words: str


NEXT_SHOWN = 8


def progress_table(progress: StudyProgress, names: Mapping[str, str]) -> ProgressTable:
    """Lay out what a study has; `names` are the operators' by their sign-in names."""
    cells = {(cell.specimen, cell.operator): cell for cell in progress.cells}
    trials = progress.study.trials
    operators = sorted(progress.operators, key=names.__getitem__)
    rows = []
    for specimen in progress.specimens:
        row = []
        for operator in operators:
            cell = cells[specimen, operator]
            word = "done" if not cell.missing else f"{cell.missing} missing"
            beyond = f"and {len(cell.beyond)} beyond the plan" if cell.beyond else ""
            css = "state--wait" if cell.missing else "state--good"
            tests = tuple(test.test for test in cell.tests)
            row.append((names[operator], css, f"{len(cell.tests)} of {trials}, {word}", beyond, tests))
        rows.append((specimen, tuple(row)))
    return ProgressTable(
        operators=tuple(names[operator] for operator in operators),
        rows=tuple(rows),
        next_up=tuple(f"{run.part} by {names[run.operator]}, trial {run.trial}" for run in progress.to_do[:NEXT_SHOWN]),
        words=f"{progress.found} of {display.count(progress.wanted, 'test')} are in.",
    )


def readings_of(progress: StudyProgress, key: str, names: Mapping[str, str] | None = None) -> list[StudyReading]:
    """The readings of a complete study; tests without this reading are left out, which unbalances it.

    Operators have their sign-in names, or those that `names` has for these.
    """
    return [
        StudyReading(test.specimen, test.operator if names is None else names[test.operator], value)
        for cell in progress.cells
        for test in cell.tests
        if (value := test.values[key]) is not None
    ]
