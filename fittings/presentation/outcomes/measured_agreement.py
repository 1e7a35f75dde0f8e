"""Agreement of two fitters on what is measured, in words, beside what others have published."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from core.web.display import NO_BREAK, number, signed
from fittings.domain.outcomes.reliability import Coefficient, Reliability
from fittings.presentation.outcomes.outcomes import HIDDEN, count_words
from fittings.selectors.outcomes.agreement import PEOPLE_LEAST
from fittings.selectors.outcomes.measured_agreement import MeasuredAgreement

_ESTIMATES = ("icc_1_1", "icc_2_1", "icc_3_1", "sem_agreement", "sem_consistency", "shift")
MEASURED_COLUMNS = (
    "measure",
    "unit",
    "n",
    *(f"{name}{part}" for name in _ESTIMATES for part in ("", "_low", "_high")),
    "mdc95_agreement",
    "mdc95_consistency",
)
EVERYWHERE_PLACES = 2
"""Digits after the point over all stores, where pages must not be set against each other."""

PUBLISHED: tuple[tuple[str, str, str], ...] = (
    (
        "Rearfoot eversion on running video",
        "Four raters, 16 patients: ICC(2,1) 0.38 (0.15 to 0.66). Only after the systematic differences between raters "
        "were removed 0.82.",
        "Vergeer et al., 2-D running video",
    ),
    (
        "Shank and foot angles on running video",
        "One rater, 21 runners, a week apart: ICC 0.73 to 0.99, smallest detectable difference 1.3° to 4.8°.",
        "Dingenen 2018, Phys Ther Sport",
    ),
    (
        "Foot-strike angle",
        "155 videos: ICC 0.88, typical error 2.5°.",
        "Murray 2019, Sports 7:8",
    ),
    (
        "Knee and hip angles",
        "18 runners: 95 % range 3° to 8° on the same day, 9° to 14° between days.",
        "Damsted, Int J Sports Phys Ther",
    ),
    (
        "Rearfoot angle standing",
        "Relaxed on one leg ICC 0.92, neutral 0.76, at the largest eversion 0.39.",
        "Foot Ankle Int 1998, 19:688",
    ),
    (
        "Navicular drop",
        "Between raters ICC 0.71 to 0.81, within one rater 0.93 to 0.97.",
        "J Manipulative Physiol Ther 2020, 43:901",
    ),
    (
        "Navicular drop",
        "Five clinicians, 20 people: ICC 0.33 to 0.76, 95 % error ±1.5 to ±3.5 mm.",
        "Abstract of a study of five clinicians",
    ),
    (
        "Navicular drop, raters new to it",
        "Three raters, 20 people: between raters ICC 0.14 to 0.57, a second time 0.38 to 0.57.",
        "Tengman & Svedmark, congress",
    ),
)
"""What others have published: the measure, the figures, where."""


@dataclass(frozen=True, slots=True)
class MeasuredLine:
    """One measure: n, the three figures with their intervals, a plain sentence, and all figures behind it."""

    label: str
    n: str
    icc: str
    sem: str
    change: str
    sentence: str
    details: tuple[tuple[str, str], ...]


def measured_lines(items: Sequence[MeasuredAgreement], *, hides: bool) -> tuple[MeasuredLine, ...]:
    return tuple(_line(item, hides=hides) for item in items)


def _line(item: MeasuredAgreement, *, hides: bool) -> MeasuredLine:
    few = item.found is None
    n = HIDDEN if hides and (few or item.n < PEOPLE_LEAST) else count_words(item.n)
    if item.found is None:
        return MeasuredLine(item.label, n, "too few to say", "", "", "", ())
    found, unit = item.found, item.unit
    return MeasuredLine(
        label=item.label,
        n=n,
        icc=_with_interval(found.two_way, "", 2),
        sem=_with_interval(found.sem_agreement, unit, 1),
        change=_in_unit(found.mdc_agreement, unit),
        sentence=_sentence(item, found),
        details=_details(found, unit),
    )


def _sentence(item: MeasuredAgreement, found: Reliability) -> str:
    change = _in_unit(found.mdc_agreement, item.unit)
    shift = found.shift.value or 0.0
    words = f"{item.label}: two fitters who measure the same foot mostly differ by less than {change}"
    is_shifted = found.shift.low is not None and not found.shift.low <= 0 <= (found.shift.high or 0.0)
    if is_shifted:
        words += (
            f", and the second measures {_in_unit(abs(shift), item.unit)} {'more' if shift > 0 else 'less'} on average"
        )
    return f"{words}. A smaller change at the next fitting may be no change of the foot."


def _details(found: Reliability, unit: str) -> tuple[tuple[str, str], ...]:
    changes = [_in_unit(value, unit, 2) for value in (found.mdc_agreement, found.mdc_consistency)]
    return (
        ("ICC(1,1), other raters for each person", _with_interval(found.one_way, "", 2)),
        ("ICC(2,1), absolute agreement", _with_interval(found.two_way, "", 2)),
        ("ICC(3,1), without systematic differences", _with_interval(found.consistency, "", 2)),
        ("SEM, agreement", _with_interval(found.sem_agreement, unit, 2)),
        ("SEM, consistency", _with_interval(found.sem_consistency, unit, 2)),
        ("MDC95, agreement and consistency", " and ".join(changes)),
        ("Second less first, mean", _with_interval(found.shift, unit, 2, signs=True)),
    )


def _in_unit(value: float, unit: str, places: int = 1) -> str:
    return f"{number(value, places)}{_spaced(unit)}"


def _spaced(unit: str) -> str:
    return unit if unit in ("", "°") else f"{NO_BREAK}{unit}"


def _with_interval(item: Coefficient, unit: str, places: int, *, signs: bool = False) -> str:
    if item.value is None:
        return "everybody the same, nothing to compare"
    words = signed if signs else number
    value = f"{words(item.value, places)}{_spaced(unit)}"
    if item.low is None or item.high is None:
        return f"{value} (no interval: the fitters never differ)"
    return f"{value} ({words(item.low, places)} to {words(item.high, places)})"


def measured_csv_rows(items: Sequence[MeasuredAgreement], *, hides: bool) -> list[list[Any]]:
    """Unrounded, but where pages of all stores could be set against each other; without measures of too few people."""
    rows: list[list[Any]] = []
    for item in items:
        if item.found is None or (hides and item.n < PEOPLE_LEAST):
            continue
        found = item.found
        correlations = (found.one_way, found.two_way, found.consistency)
        parts = (*correlations, found.sem_agreement, found.sem_consistency, found.shift)
        values = [limit for part in parts for limit in (part.value, part.low, part.high)]
        values += [found.mdc_agreement, found.mdc_consistency]
        shown = [None if value is None else round(value, EVERYWHERE_PLACES) if hides else value for value in values]
        rows.append([item.label, item.unit, item.n, *shown])
    return rows
