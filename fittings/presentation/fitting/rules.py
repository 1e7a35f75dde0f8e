"""Versions of the rules in words: what they say, how they differ, and what a dry run found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from core.domain.figures import figure
from core.web import display
from core.web.display import number, signed
from fittings.domain.disclosure.hiding import SMALL_CELL
from fittings.domain.fitting.need import GRADE_WORDS
from fittings.domain.fitting.rules_data import match_from_data
from fittings.domain.fitting.rules_trial import Trial
from fittings.domain.regions import REGIONS
from fittings.forms.fitting.rules import GRADED, HALF_WIDTHS, SINGLE, STEPPED
from fittings.models import NeedRules
from fittings.presentation.outcomes.outcome_drawings import BarDrawing, bar_drawing
from fittings.presentation.outcomes.outcomes import GroupLine, count_words, group_line, n_words
from fittings.selectors.fitting.rules_trial import RulesTrial

UNDER = "under 5"

MATCH_WORDS = {
    "drop_change_warned_mm": "Drop change to warn about, mm",
    "probability_step": "Step of the probability",
    "nearest_shown": "Nearest shown",
}


@dataclass(frozen=True, slots=True)
class RuleLine:
    """One rule in two versions; `differs` in words where it does."""

    what: str
    value: str
    other: str
    differs: str


@dataclass(frozen=True, slots=True)
class TrialPage:
    facts: tuple[tuple[str, str], ...]
    shifts: BarDrawing | None
    shift_rows: tuple[tuple[str, str], ...]
    bands: tuple[str, ...]
    moves: tuple[tuple[str, tuple[str, ...]], ...]
    fared: tuple[GroupLine, ...]
    n: str
    figures: dict[str, Any]
    hides: bool
    withheld: str


def state_words(rules: NeedRules) -> tuple[str, str]:
    if rules.is_current:
        return "in use", "state--good"
    return ("used before", "state--off") if rules.adopted_at else ("draft", "state--wait")


def rule_lines(stored: NeedRules, other: NeedRules | None) -> tuple[RuleLine, ...]:
    """Every rule of a version beside another's."""
    mine = _worded(stored)
    beside = _worded(other) if other else mine
    return tuple(
        RuleLine(what, value, beside[what], "changed" if value != beside[what] else "") for what, value in mine.items()
    )


def _worded(stored: NeedRules) -> dict[str, str]:
    data: Mapping[str, Any] = stored.data
    words = {label: figure(data[name]) for name, label in SINGLE.items()}
    for name, label in GRADED.items():
        points = zip(GRADE_WORDS, data[name], strict=True)
        words[label] = ", ".join(f"{word} {figure(value)}" for word, value in points)
    for name, (label, bound, unit) in STEPPED.items():
        words[label] = (
            ", ".join(f"{bound} {figure(at)}{unit}: {figure(value)}" for at, value in data[name]) or "nothing"
        )
    words |= {label: figure(data[name]) for name, label in HALF_WIDTHS.items()}
    words["Regions whose pain counts"] = ", ".join(REGIONS[region] for region in data["regions"]) or "none"
    match = asdict(match_from_data(stored.match))
    return words | {label: figure(match[name]) for name, label in MATCH_WORDS.items()}


def trial_page(result: RulesTrial) -> TrialPage:
    trial = result.trial
    if result.withheld:
        return _withheld_page(result)
    names = tuple(band.name for band in result.bands)
    labels = [signed(shift, 0) for shift, _ in trial.shifts]
    shown = veiled([people for _, people in trial.shifts], hides=result.fared.hides)
    counts = [people or 0 for people in shown]
    title = "People by how far the middle of their target would move, in points; the numbers are in the table below"
    return TrialPage(
        facts=_facts(result),
        shifts=bar_drawing(labels, [("people", counts)], title=title),
        shift_rows=tuple((label, _people(people)) for label, people in zip(labels, shown, strict=True)),
        bands=names,
        moves=_moves(trial, names, hides=result.fared.hides),
        fared=tuple(group_line(group, "metric") for group in result.fared.groups),
        n=n_words(result.fared.total),
        figures=_figure(labels, counts),
        hides=result.fared.hides,
        withheld="",
    )


def _withheld_page(result: RulesTrial) -> TrialPage:
    """Which fittings were tried, and why nothing is said of them."""
    return TrialPage(
        facts=_facts(result)[:1],
        shifts=None,
        shift_rows=(),
        bands=(),
        moves=(),
        fared=(),
        n=n_words(result.fared.total),
        figures={},
        hides=result.fared.hides,
        withheld=result.withheld,
    )


def veiled(counts: Sequence[int], *, hides: bool) -> list[int | None]:
    """Counts of one to four are not shown where stores are added up, nor one that would give a single one away.

    That nobody is in a cell is shown: it says which rules make no difference, and of nobody in particular.
    """
    small = {index for index, count in enumerate(counts) if hides and 0 < count < SMALL_CELL}
    if len(small) == 1:
        others = [index for index, count in enumerate(counts) if count >= SMALL_CELL]
        small |= set(sorted(others, key=lambda index: counts[index])[:1])
    return [None if index in small else count for index, count in enumerate(counts)]


def _people(people: int | None) -> str:
    return UNDER if people is None else count_words(people)


def _facts(result: RulesTrial) -> tuple[tuple[str, str], ...]:
    trial = result.trial

    def some(count: int) -> str:
        return _people(veiled([count], hides=result.fared.hides)[0])

    up, down = (number(max(value or 0.0, 0.0)) for value in (trial.largest_rise, -(trial.largest_fall or 0.0)))
    if not trial.n:
        return (("Fittings tried", "none"),)
    tried = display.count(trial.n, "fitting")
    if result.since:
        tried += f" since {display.day(result.since)}"
    return (
        ("Fittings tried", tried),
        ("Targets that move", some(trial.moved)),
        ("On average by", f"{signed(trial.mean_shift or 0.0, 1)} points"),
        (f"At most{', all but four people' if result.fared.hides else ''}", f"up {up}, down {down} points"),
        ("Wider, narrower", f"{some(trial.widened)}, {some(trial.narrowed)}"),
        ("In another band", some(trial.another_band)),
    )


def _moves(trial: Trial, names: tuple[str, ...], *, hides: bool) -> tuple[tuple[str, tuple[str, ...]], ...]:
    shown = veiled([move.people for move in trial.moves], hides=hides)
    people = {(move.before, move.after): count for move, count in zip(trial.moves, shown, strict=True)}
    places = range(len(names))
    return tuple((names[a], tuple(_people(people.get((a, b), 0)) for b in places)) for a in places)


def _figure(labels: list[str], counts: list[int]) -> dict[str, Any]:
    if not labels:
        return {}
    trace = {"name": "people", "kind": "bar", "x": labels, "y": counts}
    return {"shifts": {"x": "Shift of the middle of the target, points", "y": "People", "traces": [trace]}}


TRIAL_COLUMNS = ("what", "before", "after", "people")


def trial_csv_rows(result: RulesTrial) -> list[list[Any]]:
    if result.withheld:
        return []
    names = [band.name for band in result.bands]
    hides = result.fared.hides
    shifts = veiled([people for _, people in result.trial.shifts], hides=hides)
    moves = veiled([move.people for move in result.trial.moves], hides=hides)
    rows: list[list[Any]] = [
        ["shift_points", "", shift, UNDER if people is None else people]
        for (shift, _), people in zip(result.trial.shifts, shifts, strict=True)
    ]
    return rows + [
        ["band", names[move.before], names[move.after], UNDER if people is None else people]
        for move, people in zip(result.trial.moves, moves, strict=True)
    ]
