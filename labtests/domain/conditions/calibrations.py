"""What a calibration may say, and how far a quantity has drifted since the one before."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from core.domain.figures import figure

FIRST_YEAR = 2000
# Longer than any interval in use; a due date beyond it is a slip of the pen.
MOST_VALID = timedelta(days=5 * 366)
# A drift within this many combined standard uncertainties is what the certificates themselves leave open.
DRIFT_FACTOR = 2.0
FARTHEST_GAIN = 2.0


@dataclass(frozen=True, slots=True)
class Point:
    """A value of the standard, and what the rig showed there: as found, and as left where it was adjusted."""

    reference: float
    found: float
    left: float | None = None

    @property
    def found_error(self) -> float:
        return self.found - self.reference

    @property
    def left_error(self) -> float:
        return (self.found if self.left is None else self.left) - self.reference


@dataclass(frozen=True, slots=True)
class Certificate:
    """What a certificate says of one quantity, all in its unit; None where it says nothing."""

    calibrated_on: date
    due_on: date
    standard_uncertainty: float
    resolution: float
    range_low: float | None = None
    range_high: float | None = None
    points: tuple[Point, ...] = ()
    zero: float | None = None
    gain: float | None = None
    degrees_of_freedom: float | None = None


@dataclass(frozen=True, slots=True)
class Problem:
    """A field of a certificate, and what is wrong with it and how to correct it."""

    field: str
    words: str


@dataclass(frozen=True, slots=True)
class Drift:
    """Change of the error at one value of the standard since the last calibration, and its standard uncertainty."""

    reference: float
    drift: float
    u: float

    @property
    def is_beyond(self) -> bool:
        """Whether it is more than the two certificates leave open."""
        return abs(self.drift) > DRIFT_FACTOR * self.u


def certificate_problems(given: Certificate, *, today: date) -> tuple[Problem, ...]:
    """List everything that a certificate can't say.

    Parameters
    ----------
    given : Certificate
    today : date
        Day of recording: nothing is calibrated later.

    Returns
    -------
    tuple of Problem
        Empty where all of it makes sense.

    Examples
    --------
    >>> given = Certificate(date(2026, 3, 2), date(2126, 3, 2), 0.0, 0.1)
    >>> [problem.field for problem in certificate_problems(given, today=date(2026, 3, 4))]
    ['due_on', 'standard_uncertainty']
    """
    problems = [*_date_problems(given, today), *_number_problems(given), *_range_problems(given)]
    return tuple(Problem(field, words) for field, words in problems)


def _date_problems(given: Certificate, today: date) -> list[tuple[str, str]]:
    problems = []
    if given.calibrated_on > today:
        words = f"{given.calibrated_on} is in the future. Enter the day on the certificate; today is {today}."
        problems.append(("calibrated_on", words))
    if given.calibrated_on.year < FIRST_YEAR:
        words = f"{given.calibrated_on} can’t be: give a day from {FIRST_YEAR} on, as on the certificate."
        problems.append(("calibrated_on", words))
    if given.due_on <= given.calibrated_on:
        words = f"The due date {given.due_on} must be after the day of the calibration, {given.calibrated_on}."
        problems.append(("due_on", words))
    elif given.due_on - given.calibrated_on > MOST_VALID:
        words = f"{given.due_on} is more than five years after the calibration. Check the year of the due date."
        problems.append(("due_on", words))
    return problems


def _number_problems(given: Certificate) -> list[tuple[str, str]]:
    problems = []
    if not (math.isfinite(given.standard_uncertainty) and given.standard_uncertainty > 0.0):
        words = "The standard uncertainty must be greater than 0. Half of a certificate’s U at k = 2."
        problems.append(("standard_uncertainty", words))
    if not (math.isfinite(given.resolution) and given.resolution >= 0.0):
        problems.append(("resolution", "The resolution can’t be negative. Enter the smallest step that the rig shows."))
    df = given.degrees_of_freedom
    if df is not None and not (math.isfinite(df) and df >= 1.0):
        words = "Degrees of freedom are 1 or more. Leave it empty where the certificate gives none."
        problems.append(("degrees_of_freedom", words))
    if given.zero is not None and not math.isfinite(given.zero):
        problems.append(("zero", "Enter the zero error as a number, or leave it empty."))
    if given.gain is not None and not 1.0 / FARTHEST_GAIN <= given.gain <= FARTHEST_GAIN:
        words = "The gain is what the rig shows per unit of the true value, close to 1, such as 1.002."
        problems.append(("gain", words))
    return problems


def _range_problems(given: Certificate) -> list[tuple[str, str]]:
    low, high = given.range_low, given.range_high
    problems = []
    if (low is None) != (high is None):
        field = "range_low" if low is None else "range_high"
        problems.append((field, "A range has both ends: give the lowest and the highest value, or neither."))
    elif low is not None and high is not None:
        if not (math.isfinite(low) and math.isfinite(high) and low < high):
            words = f"The range {figure(low)} to {figure(high)} is empty. Its upper end must be above its lower end."
            problems.append(("range_high", words))
        else:
            problems += _outside(given.points, low, high)
    references = [point.reference for point in given.points]
    doubles = sorted({value for value in references if references.count(value) > 1})
    if doubles:
        problems.append(
            ("points", f"There are two points at {figure(doubles[0])}. Give each value of the standard once.")
        )
    return problems


def _outside(points: Sequence[Point], low: float, high: float) -> list[tuple[str, str]]:
    outside = [point.reference for point in points if not low <= point.reference <= high]
    words = "The point at {:g} is outside the range {:g} to {:g}. Correct the point or the range."
    return [("points", words.format(outside[0], low, high))] if outside else []


def drift_since(previous: Certificate, current: Certificate) -> tuple[Drift, ...]:
    """How far the errors have moved between two calibrations.

    Parameters
    ----------
    previous, current : Certificate
        Of the same quantity of the same rig, the earlier one first.

    Returns
    -------
    tuple of Drift
        For each point of the current calibration within those of the previous: the error as found now, less the error
        as it was left then, interpolated linearly. Where either has no points, the change of the zero error is
        used instead; empty where that is not known either.

    Notes
    -----
    The standard uncertainty is that of both certificates together, taken as independent.

    Examples
    --------
    >>> before = Certificate(date(2025, 3, 2), date(2026, 3, 2), 0.3, 0.1, points=(Point(0, 0.0), Point(400, 400.4)))
    >>> now = Certificate(date(2026, 3, 1), date(2027, 3, 1), 0.4, 0.1, points=(Point(200, 201.5),))
    >>> [(one.reference, round(one.drift, 3), one.u, one.is_beyond) for one in drift_since(before, now)]
    [(200, 1.3, 0.5, True)]
    """
    u = math.hypot(previous.standard_uncertainty, current.standard_uncertainty)
    known = sorted(previous.points, key=lambda point: point.reference)
    if known and current.points:
        at, errors = [point.reference for point in known], [point.left_error for point in known]
        return tuple(
            Drift(point.reference, point.found_error - float(np.interp(point.reference, at, errors)), u)
            for point in current.points
            if at[0] <= point.reference <= at[-1]
        )
    if previous.zero is not None and current.zero is not None:
        return (Drift(0.0, current.zero - previous.zero, u),)
    return ()
