"""Two tests beside each other, in words: the difference, its uncertainty, and whether it is beyond that."""

from __future__ import annotations

from dataclasses import dataclass

from core.domain.coverage import coverage_factor, whole_df
from core.domain.units import from_si
from core.web import display
from labtests.domain.scores.differences import Difference
from labtests.domain.scores.scoring import SCORES
from labtests.presentation.bench_tests import READING_DIGITS, READING_UNITS, SCORE_WORDS, limited_text
from labtests.selectors.comparing import Comparison

READING_WORDS = {
    "torque_15_nm": ("Torque", "torque"),
    "deflection_mm": ("Deflection", "length"),
    "work_j": ("Work", "energy"),
}
BEYOND, WITHIN, UNKNOWN = "beyond the uncertainty", "within the uncertainty", "cannot be said"
CSS = {BEYOND: "state--wait", WITHIN: "state--good", UNKNOWN: "state--off"}


@dataclass(frozen=True, slots=True)
class DifferenceLine:
    """One quantity of both tests and what it differs by."""

    name: str
    first: str
    second: str
    difference: str
    expanded: str
    coverage: str
    verdict: str
    css: str


def names_of(comparison: Comparison) -> tuple[str, str]:
    """What each test goes by: its side where they differ, else its specimen, else its number."""
    first, second = comparison.first.test, comparison.second.test
    if first.specimen.side != second.specimen.side:
        return first.specimen.side, second.specimen.side
    if first.specimen_id != second.specimen_id:
        return first.specimen.code, second.specimen.code
    return f"test {first.pk}", f"test {second.pk}"


def sentence_of(comparison: Comparison, names: tuple[str, str]) -> str:
    """What the comparison says about stability."""
    found = comparison.scores["stability"]
    if found.expanded is None or found.is_beyond is None:
        return (
            f"Stability differs by {display.number(abs(found.value))}. Whether that means anything can’t be "
            "judged, because the uncertainty of one of them is not known."
        )
    more = names[1] if found.value > 0 else names[0]
    size = f"{display.number(abs(found.value))} ± {display.number(found.expanded)}"
    if found.is_beyond:
        return f"The {more} scores higher in stability by {size}: more than the uncertainty of the difference explains."
    could_find = f"One of {display.number(found.could_find or 0.0)} would show in 8 of 10 such comparisons."
    return (
        f"Stability differs by {size}: no more than the uncertainty explains. No difference between them is shown. "
        f"{could_find}"
    )


def rigs_sentence(comparison: Comparison) -> str:
    """Whether the rigs agree, where one specimen was tested on two of them; else empty."""
    if not comparison.is_of_rigs:
        return ""
    known = {READING_WORDS[column][0]: each.en for column, each in comparison.readings.items() if each.en is not None}
    listed = ", ".join(f"{name.lower()} {display.signed(en, 2)}" for name, en in known.items())
    if any(abs(en) > 1.0 for en in known.values()):
        return f"The rigs disagree more than their stated uncertainties allow. E_n: {listed}; beyond 1 is too much."
    return f"The rigs agree within what they state. E_n: {listed}; up to 1 is within." if listed else ""


def lines_of(comparison: Comparison, system: str) -> list[DifferenceLine]:
    first, second = comparison.first, comparison.second
    lines = [
        _line(
            SCORE_WORDS[name][0],
            (getattr(first.result, name), getattr(second.result, name)),
            comparison.scores[name],
            digits=1,
        )
        for name in SCORES
    ]
    for column, found in comparison.readings.items():
        words, kind = READING_WORDS[column]
        unit, sign = READING_UNITS[kind][system]
        pair = (getattr(first.test, column), getattr(second.test, column))
        lines.append(_line(words, pair, found, digits=READING_DIGITS, scale=(unit, kind, sign)))
    return lines


def _line(
    name: str,
    pair: tuple[float, float],
    found: Difference,
    *,
    digits: int,
    scale: tuple[str, str, str] | None = None,
) -> DifferenceLine:
    def shown(value: float | None, *, is_signed: bool = False) -> str:
        if value is None:
            return "not known"
        if scale is not None:
            value = from_si(value, scale[0], quantity=scale[1])
        text = display.signed(value, digits) if is_signed else display.number(value, digits)
        return f"{text}{display.NO_BREAK}{scale[2]}" if scale is not None else text

    verdict = UNKNOWN if found.is_beyond is None else BEYOND if found.is_beyond else WITHIN
    return DifferenceLine(
        name,
        shown(pair[0]),
        shown(pair[1]),
        shown(found.value, is_signed=True),
        shown(found.expanded),
        display.MISSING
        if found.u is None
        else f"{display.short(coverage_factor(found.df))} ({limited_text(whole_df(found.df))})",
        verdict,
        CSS[verdict],
    )


def shared_words(comparison: Comparison) -> str:
    """Which errors both tests share."""
    if not comparison.shared:
        return "The tests depend on different calibrations, so that the errors of both count in full."
    names = list(dict.fromkeys(source.partition(",")[0] for source in comparison.shared))
    return (
        f"Both tests depend on the same calibration of {display.listed(names)}: an error of it is in both, and only "
        "what does not cancel counts."
    )
