"""Gauge repeatability and reproducibility: crossed study of parts, operators and trials, by analysis of variance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc

from core.domain.figures import figure
from core.domain.units import FloatArray
from labtests.domain.studies.detectable import component_sd
from labtests.domain.studies.series import Series, check_fraction, finite_series
from labtests.domain.studies.variance import (
    LEVEL,
    Interval,
    MeanSquare,
    between_sd_interval,
    sd_interval,
    variance_ratio_interval,
)

ALPHA = 0.05
CATEGORIES_FACTOR = 1.41
"""The handbooks' two-digit √2; the number of categories is defined with it."""
CATEGORIES_WANTED = 5
GRR_GOOD_PERCENT = 10.0
GRR_POOR_PERCENT = 30.0


@dataclass(frozen=True, slots=True)
class AnovaRow:
    """A row of the table; `f` and `p` are None where there is nothing to compare with."""

    source: str
    df: int
    sum_of_squares: float
    mean_square: float
    f: float | None
    p: float | None


@dataclass(frozen=True, slots=True)
class VarianceComponent:
    """A component: `raw` as the mean squares give it, `variance` not below 0, its shares of the total in %."""

    source: str
    raw: float
    variance: float
    sd: float
    contribution_percent: float
    study_variation_percent: float


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """Result of a study. `anova` is the table used: with interaction, or pooled where `is_pooled`.

    `part_ratio` is the interval of the specimens' variance over the gauge's; None where the gauge shows no variation.
    """

    parts: int
    operators: int
    trials: int
    mean: float
    alpha: float
    interaction_p: float | None
    is_pooled: bool
    interaction_anova: tuple[AnovaRow, ...]
    anova: tuple[AnovaRow, ...]
    repeatability: VarianceComponent
    operator: VarianceComponent
    interaction: VarianceComponent | None
    reproducibility: VarianceComponent
    grr: VarianceComponent
    part: VarianceComponent
    total: VarianceComponent
    repeatability_sd: Interval
    grr_sd: Interval
    part_sd: Interval
    operator_sd: Interval
    interaction_sd: Interval
    part_ratio: Interval | None
    categories_raw: float | None
    categories: int | None

    @property
    def n(self) -> int:
        """Number of readings."""
        return self.parts * self.operators * self.trials

    @property
    def could_find_operators(self) -> float:
        """Standard deviation between operators that 8 of 10 such studies would show at `alpha`."""
        return self._could_find(1, self.parts * self.trials)

    @property
    def could_find_interaction(self) -> float:
        """Standard deviation of the interaction that 8 of 10 such studies would show at `alpha`."""
        return self._could_find(2, self.trials)

    def _could_find(self, place: int, times: int) -> float:
        row, against = self.interaction_anova[place : place + 2]
        return component_sd((row.df, against.df), math.sqrt(against.mean_square), times, alpha=self.alpha)

    @property
    def study_variation_percent(self) -> Interval | None:
        """Interval of the gauge's share of the study variation."""
        if self.part_ratio is None:
            return None
        low, high = (100.0 / math.sqrt(1.0 + ratio) for ratio in (self.part_ratio.high, self.part_ratio.low))
        return Interval(low, high, self.part_ratio.level)

    @property
    def category_limits(self) -> tuple[int, int] | None:
        """The fewest and the most categories that the interval of the ratio leaves open."""
        if self.part_ratio is None:
            return None
        fewest, most = (
            math.floor(CATEGORIES_FACTOR * math.sqrt(r)) for r in (self.part_ratio.low, self.part_ratio.high)
        )
        return fewest, most

    @property
    def verdict(self) -> str:
        """The trade's reading of the share of the study variation (10 % and 30 %) and of the categories (5)."""
        interval = self.study_variation_percent
        if interval is None:
            return self._reading
        bounds = (
            f"{figure(100 * interval.level, 4)} % interval {figure(interval.low, 3)} % to {figure(interval.high, 3)} %"
        )
        return f"{self._reading} ({bounds})"

    @property
    def _reading(self) -> str:
        share = self.grr.study_variation_percent
        if share > GRR_POOR_PERCENT:
            return "not good enough: the gauge takes more than 30 % of the study variation"
        if share < GRR_GOOD_PERCENT:
            return "good: the gauge takes less than 10 % of the study variation"
        if self.categories is not None and self.categories < CATEGORIES_WANTED:
            return f"doubtful: fewer than {CATEGORIES_WANTED} categories can be distinguished"
        return "usable with care: the gauge takes 10 % to 30 % of the study variation"


def gauge_study(
    parts: Sequence[str],
    operators: Sequence[str],
    readings: Series,
    *,
    alpha: float = ALPHA,
    level: float = LEVEL,
) -> GaugeStudy:
    """Analyse a crossed gauge study: every operator tests every part equally often.

    Parameters
    ----------
    parts, operators : sequence of str, shape (n,)
        Which part (specimen) and which operator each reading belongs to; ≥ 2 of each.
    readings : sequence of float, shape (n,)
        Any order, one unit; ≥ 2 trials of each part by each operator, the same number everywhere.
    alpha : float
        The interaction is pooled into repeatability when its p is greater than this.
    level : float
        Of the intervals of the standard deviations.

    Returns
    -------
    GaugeStudy
        Parts and operators taken as random; tests of both are against the interaction, or the pooled error.

    Raises
    ------
    ValueError
        For an unbalanced or too small study (which cell is named), or readings that are all equal.

    Notes
    -----
    Intervals are by modified large sample from the table with interaction, also where that is pooled: to pool by a test
    that could not detect the interaction would make them too narrow. Negative components count as 0; `raw` keeps them.
    The number of distinct categories is cut off, not rounded; None where the gauge shows no variation at all. Percents
    of the study variation are ratios of standard deviations and do not add up. The limits 10 %, 30 % and 5 categories
    in `verdict` are common practice.

    References
    ----------
    .. [1] Montgomery D. C., Design and Analysis of Experiments: two-factor random model (from memory).
    .. [2] Pooling at α = 0.05: manuals of statistics programs; others use 0.25.

    Examples
    --------
    >>> study = gauge_study(list("aaaabbbb"), list("xxyyxxyy"), [1.0, 1.2, 1.1, 1.1, 5.0, 5.2, 5.2, 5.1])
    >>> study.is_pooled, study.categories
    (True, 41)
    """
    check_fraction("alpha", alpha)
    cube = _balanced(parts, operators, readings)
    full = _interaction_table(cube)
    if full[-1].sum_of_squares == 0.0:
        raise ValueError(f"readings must not all be equal but for rounding, got {cube.max()} {cube.size} times")
    is_pooled = _is_pooled(full[2], alpha)
    table = _pooled_table(full) if is_pooled else full
    raw = _raw_components(table, cube.shape)
    components = _components(raw)
    grr, part = components["grr"].sd, components["part"].sd
    categories = CATEGORIES_FACTOR * part / grr if grr > 0.0 else None
    between = _between_intervals(full, cube.shape, level)
    sums = _grr_mean_squares(full, cube.shape)
    repeatability = _around(components["repeatability"], sd_interval([_alone(full[3])], level=level))
    return GaugeStudy(
        parts=cube.shape[0],
        operators=cube.shape[1],
        trials=cube.shape[2],
        mean=float(cube.mean()),
        alpha=alpha,
        interaction_p=full[2].p,
        is_pooled=is_pooled,
        interaction_anova=full,
        anova=table,
        repeatability=components["repeatability"],
        operator=components["operator"],
        interaction=components.get("interaction"),
        reproducibility=components["reproducibility"],
        grr=components["grr"],
        part=components["part"],
        total=components["total"],
        repeatability_sd=repeatability,
        # Repeatability is a part of the gauge, whose upper limit can't be below its.
        grr_sd=_around(components["grr"], sd_interval(sums, level=level), at_least=repeatability.high),
        part_sd=_around(components["part"], between["part"]),
        operator_sd=_around(components["operator"], between["operator"]),
        interaction_sd=between["interaction"],
        part_ratio=_part_ratio(full, cube.shape, level) if grr > 0.0 else None,
        categories_raw=categories,
        categories=None if categories is None else math.floor(categories),
    )


def _is_pooled(interaction: AnovaRow, alpha: float) -> bool:
    """Without any error to compare with, an interaction that is there is taken as real."""
    return interaction.mean_square == 0.0 if interaction.p is None else interaction.p > alpha


def _between_intervals(full: tuple[AnovaRow, ...], shape: tuple[int, ...], level: float) -> dict[str, Interval]:
    """Intervals of the components that are differences of two mean squares."""
    n_parts, n_operators, n_trials = shape
    part, operator, crossed, error, _ = full
    differences = {
        "part": (part, crossed, n_operators * n_trials),
        "operator": (operator, crossed, n_parts * n_trials),
        "interaction": (crossed, error, n_trials),
    }
    return {
        source: between_sd_interval(_alone(row, 1.0 / times), _alone(below), level=level)
        for source, (row, below, times) in differences.items()
    }


def _part_ratio(full: tuple[AnovaRow, ...], shape: tuple[int, ...], level: float) -> Interval:
    _, n_operators, n_trials = shape
    of = _alone(full[0], 1.0 / (n_operators * n_trials))
    return variance_ratio_interval(of, _alone(full[2]), _grr_mean_squares(full, shape), level=level)


def _grr_mean_squares(full: tuple[AnovaRow, ...], shape: tuple[int, ...]) -> list[MeanSquare]:
    """The gauge's variance written as a weighted sum of mean squares, that of the operators first."""
    n_parts, _, n_trials = shape
    _, operator, crossed, error, _ = full
    of_operator = 1.0 / (n_parts * n_trials)
    return [
        _alone(operator, of_operator),
        _alone(crossed, 1.0 / n_trials - of_operator),
        _alone(error, 1.0 - 1.0 / n_trials),
    ]


def _alone(row: AnovaRow, weight: float = 1.0) -> MeanSquare:
    return MeanSquare(weight, row.mean_square, row.df)


def _around(component: VarianceComponent, found: Interval, *, at_least: float = 0.0) -> Interval:
    """The interval, widened where pooling or counting a negative component as 0 moved the estimate out of it."""
    return Interval(min(found.low, component.sd), max(found.high, component.sd, at_least), found.level)


def _balanced(parts: Sequence[str], operators: Sequence[str], readings: Series) -> FloatArray:
    """Readings as an array of shape (parts, operators, trials)."""
    series = finite_series("readings", readings)
    if not len(parts) == len(operators) == len(series):
        counts = f"{len(parts)}, {len(operators)} and {len(series)}"
        raise ValueError(f"parts, operators and readings must be equally many, got {counts}")
    part_names, part_index = np.unique(np.asarray(parts, dtype=np.str_), return_inverse=True)
    operator_names, operator_index = np.unique(np.asarray(operators, dtype=np.str_), return_inverse=True)
    for name, found in (("parts", part_names), ("operators", operator_names)):
        if len(found) < 2:
            raise ValueError(f"{name} must be ≥ 2, got {len(found)}")
    cells = part_index * len(operator_names) + operator_index
    counts_per_cell = np.bincount(cells, minlength=len(part_names) * len(operator_names))
    trials = int(counts_per_cell.max())
    uneven = np.flatnonzero(counts_per_cell != trials)
    if len(uneven):
        part, operator = divmod(int(uneven[0]), len(operator_names))
        raise ValueError(
            f"every operator must test every part equally often: part {part_names[part]} by operator "
            f"{operator_names[operator]} must have {trials} readings, got {counts_per_cell[uneven[0]]}"
        )
    if trials < 2:
        raise ValueError(f"trials of each part by each operator must be ≥ 2, got {trials}")
    if np.ptp(series) == 0.0:
        raise ValueError(f"readings must not all be equal, got {series[0]} {len(series)} times")
    ordered = series[np.argsort(cells, kind="stable")]
    return ordered.reshape(len(part_names), len(operator_names), trials)


def _interaction_table(cube: FloatArray) -> tuple[AnovaRow, ...]:
    """Rows: part, operator, part x operator, repeatability, total."""
    n_parts, n_operators, n_trials = cube.shape
    mean = cube.mean()
    cell = cube.mean(axis=2)
    of_part, of_operator = cell.mean(axis=1) - mean, cell.mean(axis=0) - mean
    crossed = cell - mean - of_part[:, None] - of_operator[None, :]
    # What rounding alone leaves of differences that are none must not pass for an error to test against.
    floor = cube.size * (8.0 * np.finfo(np.float64).eps * float(np.abs(cube).max())) ** 2

    def square(deviations: FloatArray, times: int) -> float:
        total = times * float(np.sum(deviations**2))
        return total if total > floor else 0.0

    part = _row("part", n_parts - 1, square(of_part, n_operators * n_trials))
    operator = _row("operator", n_operators - 1, square(of_operator, n_parts * n_trials))
    interaction = _row("part × operator", (n_parts - 1) * (n_operators - 1), square(crossed, n_trials))
    error = _row("repeatability", cube.size - n_parts * n_operators, square(cube - cell[:, :, None], 1))
    total = _row("total", cube.size - 1, square(cube - mean, 1))
    tested = _tested(part, interaction), _tested(operator, interaction), _tested(interaction, error)
    return (*tested, error, total)


def _pooled_table(full: tuple[AnovaRow, ...]) -> tuple[AnovaRow, ...]:
    """Rows: part, operator, repeatability with the interaction in it, total."""
    part, operator, interaction, error, total = full
    pooled = _row("repeatability", interaction.df + error.df, interaction.sum_of_squares + error.sum_of_squares)
    return (_tested(part, pooled), _tested(operator, pooled), pooled, total)


def _row(source: str, df: int, sum_of_squares: float) -> AnovaRow:
    return AnovaRow(source, df, sum_of_squares, sum_of_squares / df, None, None)


def _tested(row: AnovaRow, against: AnovaRow) -> AnovaRow:
    if against.mean_square == 0.0:
        return AnovaRow(row.source, row.df, row.sum_of_squares, row.mean_square, None, None)
    f = row.mean_square / against.mean_square
    p = float(fdtrc(row.df, against.df, f))
    return AnovaRow(row.source, row.df, row.sum_of_squares, row.mean_square, f, p)


def _raw_components(table: tuple[AnovaRow, ...], shape: tuple[int, ...]) -> dict[str, float]:
    """Components by the expected mean squares, negative where the mean squares make them so."""
    n_parts, n_operators, n_trials = shape
    part, operator, *middle, error, _ = table
    against = middle[0] if middle else error
    raw = {
        "repeatability": error.mean_square,
        "operator": (operator.mean_square - against.mean_square) / (n_parts * n_trials),
        "part": (part.mean_square - against.mean_square) / (n_operators * n_trials),
    }
    if middle:
        raw["interaction"] = (against.mean_square - error.mean_square) / n_trials
    return raw


def _components(raw: dict[str, float]) -> dict[str, VarianceComponent]:
    clipped = {source: max(0.0, value) for source, value in raw.items()}
    sums = {"reproducibility": ("operator", "interaction"), "grr": ("repeatability", "operator", "interaction")}
    for name, sources in sums.items():
        raw = {**raw, name: sum(raw.get(source, 0.0) for source in sources)}
        clipped[name] = sum(clipped.get(source, 0.0) for source in sources)
    raw = {**raw, "total": raw["grr"] + raw["part"]}
    total = clipped["total"] = clipped["grr"] + clipped["part"]
    return {
        source: VarianceComponent(
            source=source,
            raw=raw[source],
            variance=variance,
            sd=math.sqrt(variance),
            contribution_percent=100.0 * variance / total,
            study_variation_percent=100.0 * math.sqrt(variance / total),
        )
        for source, variance in clipped.items()
    }
