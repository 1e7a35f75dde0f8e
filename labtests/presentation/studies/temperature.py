"""What the pages of temperature studies show: the tests, the coefficients in words, and what budgets use."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from core.web import display
from labtests.domain.studies.temperature_fit import TemperatureFit
from labtests.domain.uncertainty.temperature import BOUND_PERCENT_K
from labtests.models import TemperatureState, TemperatureStudy
from labtests.selectors.studies.temperature import TemperatureProgress, temperature_basis

READINGS = {"torque": "Torque at the target angle", "deflection": "Heel deflection", "work": "Work"}
STATE_CSS = {
    TemperatureState.OPEN: "state--open",
    TemperatureState.PROPOSED: "state--wait",
    TemperatureState.ADOPTED: "state--good",
    TemperatureState.REPLACED: "state--off",
    TemperatureState.DISCARDED: "state--off",
}


@dataclass(frozen=True, slots=True)
class CoefficientLine:
    """A reading's coefficient in words; `problem` where there is none."""

    reading: str
    value: str
    interval: str
    n: str
    span: str
    words: str
    problem: str


@dataclass(frozen=True, slots=True)
class BenchTestLine:
    """A test of a study."""

    test: int
    performed: Any
    temperature: str
    torque: str
    deflection: str
    work: str


def coefficient_lines(progress: TemperatureProgress) -> list[CoefficientLine]:
    """The coefficients of a study: those that it keeps once they are proposed, those of its tests before."""
    stored = progress.study.figures
    if stored:
        return [
            _line(READINGS[key], stored[key]) if key in stored else _without(key, "it was not read") for key in READINGS
        ]
    return [
        _line(READINGS[key], _figures(progress.fits[key]))
        if key in progress.fits
        else _without(key, progress.problems[key])
        for key in READINGS
    ]


def _figures(fit: TemperatureFit) -> dict[str, float]:
    low, high = fit.interval.low, fit.interval.high
    return {"percent_k": fit.percent_k, "low": low, "high": high, "n": fit.n, "from_c": fit.low_c, "to_c": fit.high_c}


def _line(reading: str, figures: Mapping[str, float]) -> CoefficientLine:
    low, high = figures["low"], figures["high"]
    is_shown = low > 0.0 or high < 0.0
    way = "more" if figures["percent_k"] > 0.0 else "less"
    words = (
        f"One kelvin warmer, and it is {abs(figures['percent_k']):.2f} % {way}."
        if is_shown
        else f"No change was shown; a change of up to {max(abs(low), abs(high)):.2f} % per kelvin may have been missed."
    )
    return CoefficientLine(
        reading=reading,
        value=f"{display.signed(figures['percent_k'], 2)} %/K",
        interval=f"{display.signed(low, 2)} to {display.signed(high, 2)} %/K",
        n=f"{figures['n']:.0f}",
        span=f"{figures['from_c']:.1f} to {figures['to_c']:.1f} °C",
        words=words,
        problem="",
    )


def _without(key: str, problem: str) -> CoefficientLine:
    return CoefficientLine(READINGS[key], "", "", "", "", "", problem)


def test_lines(progress: TemperatureProgress, units: str) -> list[BenchTestLine]:
    def shown(value: float | None, kind: str) -> str:
        return "not read" if value is None else display.measure(value, kind, units)

    return [
        BenchTestLine(
            test=test.test,
            performed=test.performed_at,
            temperature=display.measure(test.temperature_c, "temperature", units),
            torque=shown(test.values["torque"], "torque"),
            deflection=shown(test.values["deflection"], "length"),
            work=shown(test.values["work"], "energy"),
        )
        for test in progress.tests
    ]


def basis_words(study: TemperatureStudy | None) -> str:
    """What budgets use for the temperature, for the lab and for the public page alike."""
    if study is None:
        return (
            f"How much these midsoles soften with warmth has not been measured yet. Up to {BOUND_PERCENT_K:g} % per "
            "kelvin is allowed for, an upper bound derived from a published comparison of hot and cold shoes, times "
            "the difference of the test from the nominal temperature."
        )
    basis = temperature_basis(study)
    return (
        f"Measured by the lab on one specimen at several temperatures: torque changes by at most "
        f"{abs(basis.torque_percent_k):.2f} %, deflection by at most {abs(basis.deflection_percent_k):.2f} % and work "
        f"by at most {abs(basis.work_percent_k):.2f} % per kelvin, times the difference of the test from the nominal "
        "temperature."
    )
