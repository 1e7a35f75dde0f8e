"""The logistic model in words, as intervals and as CSV."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from core.web.display import number
from fittings.domain.outcomes.logistic import LogisticModel
from fittings.domain.outcomes.rates import SMALL_CELL
from fittings.presentation.outcome_drawings import Interval, IntervalDrawing, interval_drawing
from fittings.presentation.outcomes import HIDDEN, count_words, p_words
from fittings.selectors.noise import noisy

ROUNDED_PLACES = 2
MODEL_COLUMNS = ("term", "log_odds", "standard_error", "odds_ratio", "low", "high", "p", "n", "events")


@dataclass(frozen=True, slots=True)
class ModelPage:
    n: str
    note: str
    rows: tuple[tuple[str, str, str, str], ...]
    drawing: IntervalDrawing | None
    figures: dict[str, Any]


def model_page(model: LogisticModel, *, hides: bool) -> ModelPage:
    terms = model.coefficients[1:]
    hidden = hides and min(model.events, model.n - model.events) < SMALL_CELL
    people, events = _shown_counts(model, hides=hides)
    n = (
        f"n = {count_words(None if hides and model.n < SMALL_CELL else people)} people at risk with body mass and "
        f"distance known, {HIDDEN if hidden else count_words(events)} of them with a recurrence"
    )
    places = ROUNDED_PLACES if hides else None
    intervals = [
        Interval(item.name, *(_placed(value, places) for value in (item.odds_ratio, item.low, item.high)))
        for item in terms
    ]
    note = "too few to say: fewer than ten recurrences a coefficient" if hidden else model.note
    return ModelPage(
        n=n,
        note=display_first(note),
        rows=tuple(
            (item.name, number(item.odds_ratio, 2), f"{number(item.low, 2)} to {number(item.high, 2)}", p_words(item.p))
            for item in terms
        ),
        drawing=interval_drawing(
            intervals,
            axis="Odds ratio (log scale)",
            title="Odds ratios with 95 % intervals; the numbers are in the table below",
            reference=1.0,
            by_ratio=True,
        ),
        figures=interval_figure(intervals, axis="Odds ratio", by_ratio=True),
    )


def _shown_counts(model: LogisticModel, *, hides: bool) -> tuple[int, int]:
    """People and recurrences, with noise where stores are added up."""
    if not hides:
        return model.n, model.events
    # Who they are is not known here, so the noise follows from the counts: the same counts get the same noise.
    return noisy(model.n, model.n * model.events), noisy(model.events, model.n)


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


def model_csv_rows(model: LogisticModel, *, hides: bool = False) -> list[list[Any]]:
    """The coefficients as CSV: unrounded, but where pages of all stores could be set against each other."""
    places = ROUNDED_PLACES if hides else None
    people, events = _shown_counts(model, hides=hides)
    return [
        [
            item.name,
            *(
                _placed(value, places)
                for value in (item.value, item.standard_error, item.odds_ratio, item.low, item.high, item.p)
            ),
            people,
            events,
        ]
        for item in model.coefficients
    ]
