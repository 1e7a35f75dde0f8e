"""What a wear series shows: readings against distance, the fitted trend with its interval, when it leaves its band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from core.domain.figures import figure
from core.domain.units import from_si
from core.web import display
from labtests.domain.scores.bands import Band
from labtests.domain.studies.detectable import slope
from labtests.domain.studies.linear_fit import MIN_POINTS, fit_line, predict
from labtests.domain.studies.wear import Crossing, Leaving, WearTrend, wear_trend
from labtests.forms.quantities import STABILITY, Quantity
from labtests.presentation.plots import Plot, plot_of
from labtests.selectors.studies.wear import WearPoint, column

LINE_POINTS = 25
DISTANCE = {"metric": ("km", "km"), "imperial": ("mi", "mi")}


@dataclass(frozen=True, slots=True)
class WearSheet:
    """One reading of a specimen over distance."""

    words: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    plot: Plot | None
    is_enough: bool
    trend: WearTrend | None
    band: Band | None


@dataclass(frozen=True, slots=True)
class WearRow:
    """One test in the table."""

    test: int
    on: str
    worn: str
    rig: str
    values: tuple[str, ...]


def distance(value: float, system: str) -> str:
    """Write km to the reader, in miles where they want them."""
    unit, sign = DISTANCE[system]
    return f"{display.number(from_si(value, unit, quantity='distance'), 0)}{display.NO_BREAK}{sign}"


def wear_sheet(points: list[WearPoint], quantity: Quantity, bands: Sequence[Band], system: str) -> WearSheet:
    counted, values = column(points, quantity.key)
    # To the metre: nearer ones are one distance.
    worn = [round(point.worn_km, 3) for point in counted]
    if len(worn) < MIN_POINTS or len(set(worn)) < 2:
        sentences = f"Too few to say: a trend needs {MIN_POINTS} tests at two distances or more; there are "
        sentences += f"{display.count(len(worn), 'test')} at {display.count(len(set(worn)), 'distance')}."
        plot = _plot(counted, values, quantity, system) if counted else None
        return WearSheet((sentences,), (), plot, False, None, None)
    plot = _plot(counted, values, quantity, system)
    try:
        band = _band_at_start(worn, values, bands) if quantity is STABILITY else None
        trend = wear_trend(worn, values, lower=band.lower if band else None, upper=band.upper if band else None)
    except ValueError as problem:
        return WearSheet((f"Too few to say: {problem}.",), (), plot, False, None, None)
    _draw_trend(plot, trend, band, quantity, system)
    return WearSheet(
        tuple(_words(trend, band, quantity, system)), _facts(trend, quantity, system), plot, True, trend, band
    )


def _band_at_start(worn: list[float], values: list[float], bands: Sequence[Band]) -> Band | None:
    """The band in which the trend begins."""
    fit = fit_line(worn, values)
    start = float(predict(fit, [fit.x_low]).value[0])
    return next(
        (
            band
            for band in bands
            if (band.lower is None or start >= band.lower) and (band.upper is None or start < band.upper)
        ),
        None,
    )


def _words(trend: WearTrend, band: Band | None, quantity: Quantity, system: str) -> list[str]:
    fit = trend.fit
    a_hundred = 100.0 * fit.slope
    sentences = [
        f"{quantity.label.capitalize()} changes by {_signed(a_hundred, quantity, system)} in {distance(100.0, system)} "
        f"({100 * fit.level:.0f} % interval {_signed(100.0 * fit.slope_interval.low, quantity, system)} to "
        f"{_signed(100.0 * fit.slope_interval.high, quantity, system)}, {display.count(fit.n, 'test')})."
    ]
    if not fit.is_slope_shown:
        could_find = quantity.shown(100.0 * slope(fit.df, fit.slope_se, level=fit.level), system, more=1)
        sentences.append(
            "No trend is shown: the interval includes no change at all. In 8 of 10 such series a change by "
            f"{could_find} in {distance(100.0, system)} would show; a smaller one can be there."
        )
    if band is not None:
        sentences.append(_crossing_words(trend.crossing, band, fit.x_high, system))
    if fit.n < 2 * MIN_POINTS:
        sentences.append(f"{fit.n} tests are few, so only a straight line is fitted.")
    sentences.append("Nothing is said beyond the last tested distance: foam need not go on as it began.")
    return sentences


def _signed(value: float, quantity: Quantity, system: str) -> str:
    text = quantity.shown(abs(value), system, more=1)
    return f"{display.MINUS if value < 0 else '+'}{text}"


def _crossing_words(crossing: Crossing, band: Band, last_km: float, system: str) -> str:
    last = distance(last_km, system)
    if crossing.leaving is Leaving.LEAVES and crossing.at_km is not None:
        low = "before the first test" if crossing.low_km is None else distance(crossing.low_km, system)
        high = f"after the last, {last}" if crossing.high_km is None else distance(crossing.high_km, system)
        return f"It leaves the band {band.name} at {distance(crossing.at_km, system)} (95 %: {low} to {high})."
    if crossing.leaving is Leaving.AFTER_LAST_TESTED:
        soonest = "" if crossing.low_km is None else f", perhaps from {distance(crossing.low_km, system)} on"
        return f"It stays in the band {band.name} up to the last tested distance, {last}{soonest}."
    return f"It stays in the band {band.name} and moves towards no limit of it."


def _facts(trend: WearTrend, quantity: Quantity, system: str) -> tuple[tuple[str, str], ...]:
    fit = trend.fit
    ends = predict(fit, [fit.x_low, fit.x_high])
    return (
        (
            "Trend at the first distance",
            f"{quantity.shown(float(ends.value[0]), system)}, {distance(fit.x_low, system)}",
        ),
        ("Trend at the last", f"{quantity.shown(float(ends.value[1]), system)}, {distance(fit.x_high, system)}"),
        ("Scatter about it", quantity.shown(fit.residual_sd, system, more=1)),
        ("R²", display.MISSING if fit.r_squared is None else display.number(fit.r_squared, 3)),
    )


def _plot(points: list[WearPoint], values: list[float], quantity: Quantity, system: str) -> Plot:
    factor, km = quantity.scale(system), _km(system)
    title = f"{quantity.label.capitalize()} against distance"
    axes = (f"distance worn, {DISTANCE[system][1]}", quantity.axis(system))
    farthest = max((point.worn_km for point in points), default=0.0) or 100.0
    plot = plot_of(title, axes, [0.0, farthest * km], [value * factor for value in values])
    for point, value in zip(points, values, strict=True):
        words = f"test {point.test}, {distance(point.worn_km, system)}: {quantity.shown(value, system)}"
        plot.mark(point.worn_km * km, value * factor, words)
    return plot


def _km(system: str) -> float:
    return from_si(1.0, DISTANCE[system][0], quantity="distance")


def _draw_trend(plot: Plot, trend: WearTrend, band: Band | None, quantity: Quantity, system: str) -> None:
    factor, km = quantity.scale(system), _km(system)
    fit = trend.fit
    # The ends by themselves: linspace may miss the last one by a rounding, which would be an extrapolation.
    x = np.clip(np.linspace(fit.x_low, fit.x_high, LINE_POINTS), fit.x_low, fit.x_high)
    found = predict(fit, x)

    def inside(y: float) -> float:
        return min(max(y * factor, plot.y_low), plot.y_high)

    places = (x * km).tolist()
    upper = [(a, inside(b)) for a, b in zip(places, found.high.tolist(), strict=True)]
    lower = [(a, inside(b)) for a, b in zip(places, found.low.tolist(), strict=True)]
    plot.area([*upper, *reversed(lower)], "95 % interval of the trend")
    plot.line([(places[0], inside(found.value[0])), (places[-1], inside(found.value[-1]))], "fitted trend")
    for limit in (band.lower, band.upper) if band else ():
        if limit is not None and plot.y_low <= limit <= plot.y_high:
            plot.level(limit, f"limit of the band {band.name if band else ''}", label=f"limit {figure(limit)}")


def wear_rows(points: list[WearPoint], quantities: Sequence[Quantity], system: str) -> list[WearRow]:
    return [
        WearRow(
            test=point.test,
            on=display.day(point.performed_at),
            worn=distance(point.worn_km, system) + ("" if point.is_distance_given else " (taken as new)"),
            rig=point.rig,
            values=tuple(quantity.shown(point.values.get(quantity.key), system) for quantity in quantities),
        )
        for point in points
    ]
