"""What a scoring model and its scale must satisfy to be adopted, listed field by field."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from core.domain.figures import figure

MIN_BANDS, MAX_BANDS = 2, 5
"""One band says nothing; the ramp that shows them has five steps."""
NAME_LENGTH = 40
SCORE_LIMIT = 1000.0
"""Limits of bands further out than this would never be met."""

Problems = dict[str, list[str]]


@dataclass(frozen=True, slots=True)
class BandText:
    """A band as its author writes it: it begins where the one below ends; `upper` is None where open."""

    name: str
    upper: float | None
    suits: str
    runner_mass_max_kg: float | None = None


@dataclass(frozen=True, slots=True)
class _Pair:
    at_0: str
    at_100: str
    words: str
    unit: str
    low: float
    high: float
    apart: float
    rises: bool


_PAIRS = (
    _Pair("torque_0_nm", "torque_100_nm", "torque", "N·m", -50.0, 50.0, 0.1, True),
    _Pair("deflection_0_mm", "deflection_100_mm", "deflection", "mm", -50.0, 50.0, 0.1, False),
    _Pair("work_0_j", "work_100_j", "work", "J", -20.0, 20.0, 0.01, True),
)
FITTED = (*(name for pair in _PAIRS for name in (pair.at_0, pair.at_100)), "weight_midfoot", "weight_rearfoot")
"""The numbers that a fit to reference shoes may change."""
NUMBERS = (*FITTED, "guard_band")


def number_problems(numbers: Mapping[str, float]) -> Problems:
    """What is wrong with the anchors, weights and guard band of a model, by the name of the number.

    Parameters
    ----------
    numbers : mapping of float by name
        Every number of `Model`.

    Returns
    -------
    dict of list of str by name
        Empty where nothing is wrong.

    Notes
    -----
    Which way each scale runs is fixed, a stiffer or better cushioned shoe scores higher: otherwise the words of the
    scores would turn about. Ranges and the least distance of two anchors are our own.

    Examples
    --------
    >>> from dataclasses import asdict
    >>> from labtests.domain.scores.scoring import S1
    >>> numbers = {name: value for name, value in asdict(S1).items() if name != "version"}
    >>> number_problems(numbers | {"deflection_100_mm": 11.0})
    {'deflection_100_mm': ['The deflection at 100 must be below that at 0 (10 mm), got 11 mm.']}
    """
    problems: Problems = {}
    for name in NUMBERS:
        if not math.isfinite(numbers[name]):
            problems[name] = ["Write a finite number."]
    for pair in _PAIRS:
        if pair.at_0 not in problems and pair.at_100 not in problems:
            problems |= _pair_problems(pair, numbers[pair.at_0], numbers[pair.at_100])
    if not {"weight_midfoot", "weight_rearfoot"} & problems.keys():
        problems |= _weight_problems(numbers["weight_midfoot"], numbers["weight_rearfoot"])
    if "guard_band" not in problems and numbers["guard_band"] < 0.0:
        problems["guard_band"] = [f"Write a guard band of 0 points or more, got {figure(numbers['guard_band'])}."]
    return problems


def guard_problems(guard_band: float, bands: Sequence[BandText]) -> Problems:
    """What is wrong with a guard band on a scale: it must leave something of every band.

    Examples
    --------
    >>> bands = [BandText("Low", 40.0, "some"), BandText("Mid", 50.0, "some"), BandText("High", None, "some")]
    >>> guard_problems(5.0, bands)
    {'guard_band': ['Write less than 5 points: band 2 is only 10 wide, and nothing would count as within it.']}
    """
    edges = [band.upper for band in bands[:-1] if band.upper is not None]
    widths = [(above - below, number) for number, (below, above) in enumerate(pairwise(edges), start=2)]
    narrowest, number = min(widths, default=(math.inf, 0))
    if guard_band < narrowest / 2.0:
        return {}
    message = f"band {number} is only {figure(narrowest)} wide, and nothing would count as within it"
    return {"guard_band": [f"Write less than {figure(narrowest / 2.0)} points: {message}."]}


def _pair_problems(pair: _Pair, at_0: float, at_100: float) -> Problems:
    problems: Problems = {}
    for name, value in ((pair.at_0, at_0), (pair.at_100, at_100)):
        if not pair.low <= value <= pair.high:
            problems[name] = [
                f"Write a {pair.words} from {figure(pair.low)} to {figure(pair.high)} {pair.unit}, got {figure(value)}."
            ]
    if problems:
        return problems
    side = "above" if pair.rises else "below"
    if (at_100 > at_0) != pair.rises:
        message = (
            f"The {pair.words} at 100 must be {side} that at 0 ({figure(at_0)} {pair.unit}), "
            f"got {figure(at_100)} {pair.unit}."
        )
        return {pair.at_100: [message]}
    if abs(at_100 - at_0) < pair.apart:
        return {pair.at_100: [f"The two anchors must be at least {figure(pair.apart)} {pair.unit} apart."]}
    return {}


def _weight_problems(midfoot: float, rearfoot: float) -> Problems:
    if not 0.0 <= midfoot <= 1.0:
        return {"weight_midfoot": [f"Write a weight from 0 to 1, got {figure(midfoot)}."]}
    if abs(midfoot + rearfoot - 1.0) > 1e-9:
        return {"weight_rearfoot": [f"The weights must add up to 1, got {figure(midfoot + rearfoot)}."]}
    return {}


def band_problems(bands: Sequence[BandText]) -> Problems:
    """What is wrong with the bands of a scale, by field: `name_1`, `upper_1`, `suits_1`, `mass_1` and so on.

    Parameters
    ----------
    bands : sequence of BandText
        Lowest first.

    Returns
    -------
    dict of list of str by field
        Empty where the bands are 2 to 5, named, and each ends above the one below, the last one open.

    Examples
    --------
    >>> band_problems([BandText("Low", 50.0, "some"), BandText("Mid", 40.0, "some"), BandText("High", None, "some")])
    {'upper_2': ['Band 2 must end above 50, where band 1 ends, got 40.']}
    """
    problems: Problems = {}
    if not MIN_BANDS <= len(bands) <= MAX_BANDS:
        return {f"name_{len(bands) or 1}": [f"A scale has {MIN_BANDS} to {MAX_BANDS} bands, got {len(bands)}."]}
    for number, band in enumerate(bands, start=1):
        _name_problems(number, bands, problems)
        if not band.suits.strip():
            problems[f"suits_{number}"] = ["Say whom the band suits."]
        mass = band.runner_mass_max_kg
        if mass is not None and not 20.0 <= mass <= 300.0:
            problems[f"mass_{number}"] = [f"Write a body mass from 20 to 300 kg or leave it out, got {figure(mass)}."]
        message = _upper_problem(number, bands)
        if message:
            problems[f"upper_{number}"] = [message]
    return problems


def _name_problems(number: int, bands: Sequence[BandText], problems: Problems) -> None:
    names = [band.name.strip().casefold() for band in bands]
    name = names[number - 1]
    if not name:
        problems[f"name_{number}"] = ["Name the band."]
    elif len(name) > NAME_LENGTH:
        problems[f"name_{number}"] = [f"Use at most {NAME_LENGTH} characters."]
    elif name in names[: number - 1]:
        problems[f"name_{number}"] = [f"Band {names.index(name) + 1} already has this name."]


def _upper_problem(number: int, bands: Sequence[BandText]) -> str:
    upper = bands[number - 1].upper
    if number == len(bands):
        return "" if upper is None else "The highest band is open above: leave its end out."
    if upper is None:
        return "Only the highest band is open above: write where this one ends."
    if not -SCORE_LIMIT <= upper <= SCORE_LIMIT:
        return f"Write a score from {figure(-SCORE_LIMIT)} to {figure(SCORE_LIMIT)}, got {figure(upper)}."
    below = [(place, band.upper) for place, band in enumerate(bands[: number - 1], start=1) if band.upper is not None]
    place, edge = max(below, key=lambda found: found[1], default=(0, -math.inf))
    return (
        f"Band {number} must end above {figure(edge)}, where band {place} ends, got {figure(upper)}."
        if upper <= edge
        else ""
    )
