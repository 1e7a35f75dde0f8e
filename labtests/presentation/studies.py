"""What the pages of gauge studies show: progress, the analysis of variance, its components, and what they mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.web import display
from labtests.domain.studies.gauge import AnovaRow, GaugeStudy, VarianceComponent, gauge_study
from labtests.forms.quantities import Quantity, significant, with_interval
from labtests.presentation.plots import Plot, plot_of
from labtests.selectors.studies import StudyProgress

# 1.96 √2: two readings of one specimen stay within it in 95 % of cases (ISO 5725-6 rounds it to 2.8).
DIFFERENCE_FACTOR = 2.77
LOWEST_P = 0.0001
COMPONENT_WORDS = {
    "grr": "bench in all (repeatability and reproducibility)",
    "repeatability": "repeatability: the same operator again",
    "reproducibility": "reproducibility: between operators",
    "operator": "of that: operators",
    "interaction": "of that: specimen × operator",
    "part": "specimens",
    "total": "total",
}
SHAPES = ("dot", "dot dot--2", "dot dot--off")


@dataclass(frozen=True, slots=True)
class StudyReading:
    """One reading of a study, in its kept unit."""

    part: str
    operator: str
    value: float


@dataclass(frozen=True, slots=True)
class StudySheet:
    """The result of a study as it is shown."""

    unit: str
    n: int
    meaning: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    anova: tuple[tuple[str, ...], ...]
    components: tuple[tuple[str, ...], ...]
    has_negative: bool
    plot: Plot
    parts: tuple[tuple[str, str, tuple[str, ...]], ...]
    operators: tuple[tuple[str, str], ...]


def study_sheet(readings: Sequence[StudyReading], quantity: Quantity, system: str) -> StudySheet:
    """Analyse a balanced study; raises ValueError where it cannot be."""
    factor = quantity.scale(system)
    values = [reading.value * factor for reading in readings]
    study = gauge_study([r.part for r in readings], [r.operator for r in readings], values)
    unit = quantity.sign(system)
    components = [study.repeatability, study.reproducibility, study.operator]
    components += [study.interaction] if study.interaction else []
    listed = [study.grr, *components, study.part, study.total]
    parts = sorted({reading.part for reading in readings})
    operators = sorted({reading.operator for reading in readings})
    return StudySheet(
        unit=unit,
        n=study.n,
        meaning=_meaning(study, quantity, unit),
        facts=_facts(study, unit),
        anova=tuple(_anova_row(row) for row in study.anova),
        components=tuple(_component_row(component) for component in listed),
        has_negative=any(component.raw < 0.0 for component in listed),
        plot=_plot(readings, (parts, operators), quantity, system),
        parts=tuple(_part_row(n, part, operators, readings, factor) for n, part in enumerate(parts, start=1)),
        operators=tuple((name, _shape_words(place)) for place, name in enumerate(operators)),
    )


def _meaning(study: GaugeStudy, quantity: Quantity, unit: str) -> tuple[str, ...]:
    bench, specimens = study.grr.contribution_percent, study.part.contribution_percent
    apart = significant(DIFFERENCE_FACTOR * study.repeatability.sd, 3)
    unit = f" {unit}" if unit else ""
    return (
        f"{study.verdict.capitalize()}.",
        f"Of the variance in this study {display.percent(bench / 100.0)} comes from the bench and its operators and "
        f"{display.percent(specimens / 100.0)} from the specimens.",
        f"Two readings of {quantity.label} on one specimen by one operator lie within {apart}{unit} of each other in "
        "95 % of cases.",
        _categories(study),
        _interaction(study),
    )


def _categories(study: GaugeStudy) -> str:
    if study.categories is None:
        return "The bench shows no variation at all, so that the number of distinct categories cannot be told."
    return (
        f"It can tell {display.count(study.categories, 'distinct category', 'distinct categories')} apart among these "
        f"specimens (1.41 · {significant(study.part.sd, 3)} / {significant(study.grr.sd, 3)}, cut off, not rounded); "
        "5 are usually asked for."
    )


def _interaction(study: GaugeStudy) -> str:
    told = "cannot be tested" if study.interaction_p is None else f"has p = {_p(study.interaction_p)}"
    done = "is pooled into repeatability" if study.is_pooled else "is kept"
    rule = f"it is pooled where p is greater than {study.alpha:g}"
    return f"The interaction of specimen and operator {told} and {done} ({rule})."


def _facts(study: GaugeStudy, unit: str) -> tuple[tuple[str, str], ...]:
    repeat, bench = study.repeatability_sd, study.grr_sd
    return (
        ("Readings", f"{study.parts} × {study.operators} × {study.trials} = {study.n}"),
        ("Bench, % of study variation", f"{display.number(study.grr.study_variation_percent)} %"),
        ("Distinct categories", display.MISSING if study.categories is None else str(study.categories)),
        ("Repeatability s", with_interval(study.repeatability.sd, repeat.low, repeat.high, unit)),
        ("Bench s", with_interval(study.grr.sd, bench.low, bench.high, unit)),
    )


def _anova_row(row: AnovaRow) -> tuple[str, ...]:
    return (
        row.source.replace("part", "specimen"),
        str(row.df),
        significant(row.sum_of_squares, 5),
        significant(row.mean_square, 5),
        significant(row.f),
        display.MISSING if row.p is None else _p(row.p),
    )


def _p(p: float) -> str:
    return f"< {LOWEST_P:g}" if p < LOWEST_P else f"{p:.4f}"


def _component_row(component: VarianceComponent) -> tuple[str, ...]:
    return (
        COMPONENT_WORDS[component.source],
        significant(component.raw),
        significant(component.variance),
        significant(component.sd),
        f"{display.number(component.contribution_percent)} %",
        f"{display.number(component.study_variation_percent)} %",
    )


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
        # Operators stand side by side at each specimen; the line joins the means of one operator.
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


def progress_table(progress: StudyProgress) -> ProgressTable:
    cells = {(cell.specimen, cell.operator): cell for cell in progress.cells}
    trials = progress.study.trials
    rows = []
    for specimen in progress.specimens:
        row = []
        for operator in progress.operators:
            cell = cells[specimen, operator]
            word = "done" if not cell.missing else f"{cell.missing} missing"
            beyond = f"and {len(cell.beyond)} beyond the plan" if cell.beyond else ""
            css = "state--wait" if cell.missing else "state--good"
            tests = tuple(test.test for test in cell.tests)
            row.append((operator, css, f"{len(cell.tests)} of {trials}, {word}", beyond, tests))
        rows.append((specimen, tuple(row)))
    return ProgressTable(
        operators=progress.operators,
        rows=tuple(rows),
        next_up=tuple(f"{run.part} by {run.operator}, trial {run.trial}" for run in progress.to_do[:NEXT_SHOWN]),
        words=f"{progress.found} of {display.count(progress.wanted, 'test')} are in.",
    )


def readings_of(progress: StudyProgress, key: str) -> list[StudyReading]:
    """The readings of a complete study; tests without this reading are left out, which unbalances it."""
    return [
        StudyReading(test.specimen, test.operator, value)
        for cell in progress.cells
        for test in cell.tests
        if (value := test.values[key]) is not None
    ]
