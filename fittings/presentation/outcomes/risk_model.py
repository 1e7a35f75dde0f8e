"""The Cox model in words, as intervals and as CSV."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from core.web.display import number
from fittings.domain.disclosure.hiding import SMALL_CELL
from fittings.domain.outcomes.cox import Coefficient, CoxModel
from fittings.presentation.outcomes.outcome_drawings import Interval, IntervalDrawing, interval_drawing
from fittings.presentation.outcomes.outcome_statements import p_words
from fittings.presentation.outcomes.outcomes import HIDDEN, count_words
from fittings.selectors.outcomes.noise import noisy

ROUNDED_PLACES = 2
MODEL_COLUMNS = (
    "term",
    "log_hazard",
    "standard_error",
    "robust_standard_error",
    "hazard_ratio",
    "low",
    "high",
    "p",
    "p_constant_with_time",
    "n",
    "events",
)

CHANGES_BELOW = 0.05
"""With a smaller p the ratio is said to change with time."""

COMPARED = (
    "people who chose in their target, against those who chose outside it",
    "people who weigh 10 kg more, everything else equal",
    "people with one more complaint in their history, everything else equal",
    "people who cover 10 km a week more, everything else equal",
)
"""Whom each term sets against whom, in the order of the selector's terms."""


@dataclass(frozen=True, slots=True)
class ModelRow:
    name: str
    ratio: str
    interval: str
    p: str
    sentence: str
    constant: str


@dataclass(frozen=True, slots=True)
class ModelPage:
    n: str
    note: str
    rows: tuple[ModelRow, ...]
    drawing: IntervalDrawing | None
    figures: dict[str, Any]


def model_page(model: CoxModel, *, hides: bool) -> ModelPage:
    hidden = hides and min(model.events, model.n - model.events) < SMALL_CELL
    people, events = _shown_counts(model, hides=hides)
    n = (
        f"n = {count_words(None if hides and model.n < SMALL_CELL else people)} complaints at risk, each shoe by "
        "itself, with body mass and distance known, "
        f"{HIDDEN if hidden else count_words(events)} of them with a recurrence"
    )
    places = ROUNDED_PLACES if hides else None
    terms = () if hidden else model.coefficients
    intervals = [
        Interval(item.name, *(_placed(value, places) for value in (item.hazard_ratio, item.low, item.high)))
        for item in terms
    ]
    # The model's own note has the exact count, which a page of all stores must not show.
    is_generic = hidden or (hides and model.note.startswith("too few"))
    note = "too few to say: fewer than ten recurrences a coefficient" if is_generic else model.note
    return ModelPage(
        n=n,
        note=display_first(note),
        rows=tuple(_row(item, compared) for item, compared in zip(terms, COMPARED, strict=False)),
        drawing=interval_drawing(
            intervals,
            axis="Hazard ratio (log scale)",
            title="Hazard ratios with 95 % intervals; the numbers are in the table below",
            reference=1.0,
            by_ratio=True,
        ),
        figures=interval_figure(intervals, axis="Hazard ratio", by_ratio=True),
    )


def _shown_counts(model: CoxModel, *, hides: bool) -> tuple[int, int]:
    """Complaints and recurrences, with noise where stores are added up."""
    if not hides:
        return model.n, model.events
    # Who they are is not known here, so the noise follows from the counts: the same counts get the same noise.
    return noisy(model.n, model.n * model.events), noisy(model.events, model.n)


def _row(item: Coefficient, compared: str) -> ModelRow:
    changes = item.p_constant < CHANGES_BELOW
    return ModelRow(
        name=item.name,
        ratio=number(item.hazard_ratio, 2),
        interval=f"{number(item.low, 2)} to {number(item.high, 2)}",
        p=p_words(item.p),
        sentence=f"At any time {number(item.hazard_ratio, 2)} times as many recurrences: {compared}.",
        constant=f"{'changes' if changes else 'nothing found'} ({p_words(item.p_constant)})",
    )


def _placed(value: float, places: int | None) -> float:
    return value if places is None else round(value, places)


def interval_figure(rows: Sequence[Interval], *, axis: str, by_ratio: bool = False) -> dict[str, Any]:
    """Intervals for a closer look."""
    if not rows:
        return {}
    trace = {
        "name": axis,
        "kind": "interval",
        "x": [row.value for row in rows],
        "y": [row.name for row in rows],
        "low": [row.low for row in rows],
        "high": [row.high for row in rows],
    }
    return {"intervals": {"x": axis, "y": "", "log": by_ratio, "traces": [trace]}}


def display_first(text: str) -> str:
    return text[:1].upper() + text[1:] + ("." if text and not text.endswith(".") else "")


def model_csv_rows(model: CoxModel, *, hides: bool = False) -> list[list[Any]]:
    """The coefficients as CSV: unrounded, but where pages of all stores could be set against each other."""
    if hides and min(model.events, model.n - model.events) < SMALL_CELL:
        return []
    places = ROUNDED_PLACES if hides else None
    people, events = _shown_counts(model, hides=hides)
    return [
        [item.name, *(None if value is None else _placed(value, places) for value in _values(item)), people, events]
        for item in model.coefficients
    ]


def _values(item: Coefficient) -> tuple[float | None, ...]:
    errors = (item.standard_error, item.robust_error)
    return (item.value, *errors, item.hazard_ratio, item.low, item.high, item.p, item.p_constant)
