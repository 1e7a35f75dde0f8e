"""What the pages show of a record, worded and rounded in the units of the reader before the template."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from core.domain.coverage import coverage_factor, expanded, whole_df
from core.domain.units import from_si
from core.web import display
from labtests.domain.scores.bands import Placement
from labtests.domain.scores.evaluation import summarise
from labtests.domain.scores.protocol import Limit
from labtests.domain.scores.scoring import SCORES
from labtests.domain.scores.shoe_scores import ShoeScore
from labtests.domain.uncertainty.propagation import POINTS, Budget, BudgetRow
from labtests.forms.quantities import significant, with_unit
from labtests.models import BenchTest, Result, State
from labtests.presentation.bench.bench_day import conditioning_words
from labtests.presentation.links import link_to
from labtests.selectors.bench.earlier_tests import EarlierTest
from labtests.selectors.bench_tests import result_of
from labtests.services import ShoeProposal

STATE_CSS = {
    State.HELD: "state--stop",
    State.ACCEPTED: "state--wait",
    State.APPROVED: "state--good",
    State.VOID: "state--off",
}
SCORE_WORDS = {
    "stability": ("Stability", "midfoot and rearfoot together"),
    "midfoot": ("Midfoot", "from the torque of twisting"),
    "rearfoot": ("Rearfoot", "from the heel’s deflection"),
    "cushioning": ("Cushioning", "from the work of pressing the heel in"),
}
CONDITION_WORDS = (
    ("conditioned_h", "Conditioning time", None),
    ("temperature_c", "Midsole temperature", "temperature"),
    ("heel_clamp_n", "Heel clamp", "force"),
    ("forefoot_clamp_n", "Forefoot clamp", "force"),
)
SPECIMEN_WORDS = (
    ("worn_km", "Worn", "distance"),
    ("mass_g", "Mass", "mass"),
    ("stack_heel_mm", "Stack, heel", "length"),
    ("stack_forefoot_mm", "Stack, forefoot", "length"),
)
# Reasons of the conditioning log that speak of the conditioning time.
CONDITION_OF = {"conditioning_lapsed": "conditioned_h"}
# Column, words, quantity. Readings show more digits than what is published: their scatter matters.
READING_COLUMNS = (
    ("torque_15_nm", "Torque", "torque"),
    ("deflection_mm", "Deflection", "length"),
    ("work_j", "Work", "energy"),
    ("energy_return", "Energy return", "share"),
)
READING_DIGITS = 3
READING_UNITS = {
    "torque": {"metric": ("N*m", "N·m"), "imperial": ("in*lbf", "in·lbf")},
    "length": {"metric": ("mm", "mm"), "imperial": ("in", "in")},
    "energy": {"metric": ("J", "J"), "imperial": ("in*lbf", "in·lbf")},
}


@dataclass(frozen=True, slots=True)
class StateBadge:
    """A state as a word in a shape."""

    word: str
    css: str


@dataclass(frozen=True, slots=True)
class ScoreLine:
    """One score in words, with its uncertainty and budget."""

    name: str
    meaning: str
    value: float
    combined: float | None
    expanded_uncertainty: float | None
    coverage_factor: float | None
    degrees_of_freedom: int | None
    estimated: bool
    budget: tuple[dict[str, Any], ...]
    k: str
    df: str


@dataclass(frozen=True, slots=True)
class ConditionLine:
    """One condition against the protocol."""

    name: str
    given: str
    accepted: str
    is_inside: bool
    note: str = ""


@dataclass(frozen=True, slots=True)
class ReadingTable:
    """The repeats of a test, their mean and standard deviation; each cell with the words of its column, for phones."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]


def badge(test: BenchTest) -> StateBadge:
    state = State(test.state)
    return StateBadge(str(state.label), STATE_CSS[state])


@dataclass(frozen=True, slots=True, eq=False)
class BenchTestLine:
    """A test in a short list."""

    test: BenchTest
    badge: StateBadge
    stability: ScoreLine | None


def test_line(test: BenchTest) -> BenchTestLine:
    scores = score_lines(result_of(test), with_budgets=False)
    return BenchTestLine(test, badge(test), next(iter(scores), None))


def score_lines(
    result: Result | None, certificates: Mapping[int, str] | None = None, *, with_budgets: bool = True
) -> list[ScoreLine]:
    """Each score of a result; `certificates`: what its calibrations' certificates are called, by calibration."""
    if result is None:
        return []
    return [_score_line(result, name, certificates or {}, with_budget=with_budgets) for name in SCORES]


def _score_line(result: Result, name: str, certificates: Mapping[int, str], *, with_budget: bool) -> ScoreLine:
    u, df = getattr(result, f"{name}_u"), getattr(result, f"{name}_df")
    none = Budget(math.inf, ())
    budget = result.budget_tables.get(name, none) if with_budget else none
    words = SCORE_WORDS[name]
    return ScoreLine(
        name=words[0],
        meaning=words[1],
        value=getattr(result, name),
        combined=u,
        **covered(u, df),
        estimated=name == "cushioning" and result.cushioning_estimated,
        budget=tuple(_budget_row(row, certificates) for row in budget.rows),
        k=display.short(coverage_factor(df)),
        df=limited_text(whole_df(df)),
    )


def covered(u: float | None, df: float | None) -> dict[str, Any]:
    """What a score's uncertainty is said with: U = k u, k, and the degrees of freedom; None where u is not known."""
    if u is None:
        return {"expanded_uncertainty": None, "coverage_factor": None, "degrees_of_freedom": None}
    return {
        "expanded_uncertainty": expanded(u, df),
        "coverage_factor": coverage_factor(df),
        "degrees_of_freedom": whole_df(df),
    }


def limited_text(df: int | None) -> str:
    return "not limited" if df is None else str(df)


def _row_freedom(df: float) -> str:
    """Of one source; nan where it was not stored with the budget."""
    return display.MISSING if math.isnan(df) else display.number(df, 0) if math.isfinite(df) else "not limited"


def _budget_row(row: BudgetRow, certificates: Mapping[int, str]) -> dict[str, Any]:
    return {
        "source": row.source,
        "calibration": row.calibration,
        "certificate": certificates.get(row.calibration or 0, ""),
        "type": row.type_,
        "df": _row_freedom(row.df),
        "link": link_to(row.link),
        "u": with_unit(significant(row.u, 2), row.unit),
        "sensitivity": f"{significant(row.sensitivity, 3)} per {'point' if row.unit == POINTS else row.unit}",
        "contribution": display.number(row.contribution, 3),
        "share": display.percent(row.share),
    }


def probabilities(placement: Placement | None) -> list[tuple[int, str, str]]:
    """For each band its order, name and probability in words."""
    if placement is None:
        return []
    return [
        (entry.band.order, entry.band.name, display.probability(entry.probability)) for entry in placement.probabilities
    ]


def condition_lines(test: BenchTest, system: str) -> list[ConditionLine]:
    protocol = test.protocol.to_domain()
    outside = {CONDITION_OF.get(entry["code"], entry["code"]) for entry in test.reasons}
    return [
        ConditionLine(
            name=words,
            given=_condition(getattr(test, name), kind, system),
            accepted=_accepted(getattr(protocol, name), kind, system),
            is_inside=name not in outside,
            note=conditioning_words(test) if name == "conditioned_h" else "",
        )
        for name, words, kind in CONDITION_WORDS
    ]


def _condition(value: float, kind: str | None, system: str) -> str:
    return f"{display.number(value)}{display.NO_BREAK}h" if kind is None else display.measure(value, kind, system)


def _accepted(limit: Limit, kind: str | None, system: str) -> str:
    if limit.low is None:
        return "any" if limit.high is None else f"at most {_condition(limit.high, kind, system)}"
    if limit.high is None:
        return f"at least {_condition(limit.low, kind, system)}"
    return f"{_condition(limit.low, kind, system)} to {_condition(limit.high, kind, system)}"


def specimen_facts(test: BenchTest, system: str) -> list[tuple[str, str]]:
    specimen = test.specimen
    facts = [
        ("Specimen", f"{specimen.code}, {specimen.side}, {display.size(specimen.size_eu)}"),
        ("Rig", test.rig.code),
        ("Operator", test.operator.display_name),
        ("Performed", display.moment(test.performed_at)),
        ("Protocol", test.protocol.version),
    ]
    if test.upload.is_by_hand:
        facts.append(("Entered", f"by hand, by {test.upload.by.display_name}"))
    facts += [
        (words, display.measure(getattr(test, name), kind, system))
        for name, words, kind in SPECIMEN_WORDS
        if getattr(test, name) is not None
    ]
    return facts + [(key, str(value)) for key, value in test.extra.items()]


@dataclass(frozen=True, slots=True)
class EarlierLines:
    """The last result of the same specimen, and what the test changed from it."""

    test: int
    on: str
    lines: tuple[tuple[str, str, str], ...]


def earlier_lines(earlier: EarlierTest | None, test: BenchTest, system: str) -> EarlierLines | None:
    """Name, value then and change of torque and deflection; None for the first test of a specimen."""
    if earlier is None:
        return None
    lines = []
    for column, words, kind in reading_columns(test)[:2]:
        before, now = getattr(earlier.result, column), getattr(test, column)
        change = f"{display.signed((now / before - 1) * 100)}{display.NO_BREAK}%" if before and now else display.MISSING
        lines.append((words, _reading(before, kind, system), change))
    return EarlierLines(earlier.result.test, display.day(earlier.performed_at), tuple(lines))


def people_lines(test: BenchTest) -> list[tuple[str, str]]:
    """Who carried a test out, submitted it and decided on it."""
    lines = [
        ("Carried out by", f"{test.operator.display_name}, {display.moment(test.performed_at)}"),
        ("Submitted by", f"{test.upload.by.display_name}, {display.moment(test.upload.at)}"),
    ]
    if test.reviewed_by:
        lines.append(("Reviewed by", f"{test.reviewed_by.display_name}, {display.moment(test.reviewed_at)}"))
    if test.review_reason:
        lines.append(("Their reason", test.review_reason))
    return lines


def reading_columns(test: BenchTest) -> tuple[tuple[str, str, str], ...]:
    """What is read of a test, with the angle that its protocol twists to."""
    name, _, quantity = READING_COLUMNS[0]
    return ((name, test.protocol.to_domain().target.torque_name.capitalize(), quantity), *READING_COLUMNS[1:])


def reading_table(test: BenchTest, system: str) -> ReadingTable:
    readings = list(test.readings.all())
    used = [column for column in reading_columns(test) if any(getattr(row, column[0]) is not None for row in readings)]

    def cells(values: Sequence[float | None]) -> tuple[tuple[str, str], ...]:
        return tuple(
            (words, _reading(value, kind, system)) for value, (_, words, kind) in zip(values, used, strict=True)
        )

    rows = [(f"repeat {row.repeat}", cells([getattr(row, name) for name, _, _ in used])) for row in readings]
    summaries = [summarise([getattr(row, name) for row in readings]) for name, _, _ in used]
    if len(readings) > 1:
        rows.append(("mean", cells([summary.mean if summary else None for summary in summaries])))
        rows.append(("standard deviation", cells([summary.sd if summary else None for summary in summaries])))
    return ReadingTable(tuple(words for _, words, _ in used), tuple(rows))


def _reading(value: float | None, kind: str, system: str) -> str:
    if value is None:
        return display.MISSING
    if kind == "share":
        return f"{display.number(value * 100)}{display.NO_BREAK}%"
    unit, sign = READING_UNITS[kind][system]
    return f"{display.number(from_si(value, unit, quantity=kind), READING_DIGITS)}{display.NO_BREAK}{sign}"


@dataclass(frozen=True, slots=True)
class PartLine:
    """One published score with the parts of its uncertainty."""

    name: str
    value: float
    expanded_uncertainty: float | None
    coverage_factor: float | None
    degrees_of_freedom: int | None
    estimated: bool
    coverage: str
    within: str
    setup: str
    between: str
    common: str
    extra: str


def proposal_lines(proposal: ShoeProposal) -> list[PartLine]:
    estimated = any(test.work_is_estimated for test in proposal.tests)
    return [
        _part_line(name, score, is_estimated=estimated and name == "cushioning")
        for name, score in proposal.scores.items()
    ]


def _part_line(name: str, score: ShoeScore, *, is_estimated: bool) -> PartLine:
    return PartLine(
        name=SCORE_WORDS[name][0],
        value=score.value,
        **covered(score.u, score.df),
        estimated=is_estimated,
        coverage=f"{display.short(coverage_factor(score.df))} ({limited_text(whole_df(score.df))})" if score.u else "",
        within=display.number(score.within, 2),
        setup=display.number(score.setup, 2),
        between=display.number(score.between, 2),
        common=display.number(score.common, 2),
        extra=display.number(score.extra, 2),
    )
