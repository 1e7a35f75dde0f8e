"""One group of the outcomes, and two of them set against each other, from people and complaints added up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fittings.domain.disclosure.hiding import SMALL_CELL
from fittings.domain.outcomes.clusters import PersonSums, design_effect, rate_of_people, rate_ratio_of_people, widened
from fittings.domain.outcomes.comparisons import Estimate, RateRatio, difference_of, ratio_of
from fittings.domain.outcomes.late_entry import late_life_table
from fittings.domain.outcomes.onset import Onsets, onsets
from fittings.domain.outcomes.rates import TOO_FEW_EVENTS, Rate
from fittings.domain.outcomes.restricted_mean import RestrictedMean, as_estimate, restricted_mean
from fittings.domain.outcomes.survival import LifeTable, SurvivalCurve, curve_of
from fittings.domain.outcomes.visits import VisitCurve, at_visits, visit_curve
from fittings.selectors.outcomes.courses import MARK_WEEKS, READ_OFF_DAYS, DayCount, PeopleCount

DAYS_PER_WEEK = 7.0


@dataclass(frozen=True, slots=True)
class Reading:
    """The curve at a follow-up: share still free and its limits, complaints still watched, recurrences reported so far.

    `mean` is the mean time free up to then, in weeks, where there are enough recurrences.
    """

    share: float
    low: float
    high: float
    at_risk: int | None
    events: int
    mean: RestrictedMean | None = None

    @property
    def risk(self) -> Estimate:
        """The share that came back by then."""
        return Estimate(1.0 - self.share, 1.0 - self.high, 1.0 - self.low, "")


@dataclass(frozen=True, slots=True)
class Loss:
    """Share still free at a follow-up if all complaints of people who were lost stayed away, if none did, and with
    weights instead; `lost` counts these complaints."""

    weeks: int
    lost: int | None
    best: Estimate
    worst: Estimate
    weighted: Estimate


@dataclass(frozen=True, slots=True)
class Group:
    """One row of the outcomes. A count that is hidden is None, and so is what could give it away.

    People are counted once each: `at_risk` with any complaint that could come back, `back` with one that did,
    `left_out` by the reasons of `LeftOut`, `without_km` at risk over a distance that is not known. `recurrences` are
    complaints, and so is `begun`, those at risk from their beginning. `readings` are at `MARK_WEEKS`, and `by_person`
    is what the rate follows from.
    """

    name: str
    people: int | None
    answered: int | None
    lost: int | None
    at_risk: int | None
    back: int | None
    recurrences: int | None
    left_out: tuple[int | None, ...]
    without_km: int | None
    visits: int | None
    visits_open: int | None
    km: float | None
    rate: Rate | None
    by_person: PersonSums | None
    begun: int | None
    readings: tuple[Reading | None, ...]
    loss: Loss | None = None


@dataclass(frozen=True, slots=True)
class Comparison:
    """A first group against a second: risks and mean times up to `weeks` (None: no common one), and rates per km."""

    weeks: int | None
    difference: Estimate
    ratio: Estimate
    mean: Estimate
    rates: RateRatio | None
    too_few: bool


def group_of(name: str, people: PeopleCount, rows: Sequence[DayCount]) -> Group:
    """Everything about one group, nothing hidden: its people, and its complaints by the day."""
    table, curve = life_table_of(rows), visit_curve(onsets_of(rows), MARK_WEEKS)
    effect = design_effect(people.by_person)
    readings = _readings(curve, table, effect)
    return Group(
        name=name,
        people=people.people,
        answered=people.answered,
        lost=people.lost,
        at_risk=people.at_risk,
        back=people.back,
        recurrences=people.recurrences,
        left_out=people.left_out,
        without_km=people.at_risk - people.by_person.people,
        visits=people.visits,
        visits_open=people.visits_open,
        km=people.by_person.exposure,
        # A distance that is not known is not 0: its recurrence is left out of the rate with it.
        rate=rate_of_people(people.by_person),
        by_person=people.by_person,
        begun=sum(row.complaints for row in rows if row.days is not None and row.entered == 0),
        readings=readings,
        loss=_loss(rows, readings, effect),
    )


def life_table_of(rows: Sequence[DayCount]) -> LifeTable:
    """Complaints at risk by weeks, recurrences at the report; rows of several groups are added up."""
    watched = [row for row in rows if row.days is not None]
    columns = [[getattr(row, name) for row in watched] for name in ("entered", "days", "complaints", "recurred")]
    entered, days, complaints, recurred = np.array(columns, dtype=np.float64)
    return late_life_table(entered / DAYS_PER_WEEK, days / DAYS_PER_WEEK, complaints, recurred)


def onsets_of(rows: Sequence[DayCount]) -> Onsets:
    """Complaints at risk by the follow-ups between which they came back."""
    watched = [row for row in rows if row.days is not None]
    recurred = np.array([row.recurred for row in watched], dtype=np.float64)
    return _at_visits(watched, recurred, np.array([row.complaints for row in watched], dtype=np.float64) - recurred)


def _at_visits(watched: Sequence[DayCount], recurred: NDArray[np.float64], others: NDArray[np.float64]) -> Onsets:
    days = np.array([row.days for row in watched], dtype=np.float64)
    weeks = np.where(days <= READ_OFF_DAYS, days / DAYS_PER_WEEK, np.inf)
    free = np.array([row.free_until for row in watched], dtype=np.float64) / DAYS_PER_WEEK
    # A shoe may be changed after the last day known to be free, so the others too are free only up to that day.
    return at_visits(
        np.concatenate([free, free]),
        np.concatenate([weeks, np.full(weeks.size, np.inf)]),
        np.concatenate([recurred, others]),
        MARK_WEEKS,
        entered=np.tile([row.entered / DAYS_PER_WEEK for row in watched], 2),
    )


def _readings(curve: VisitCurve, table: LifeTable, effect: float) -> tuple[Reading | None, ...]:
    """The curve at each follow-up, its limits widened by the design effect of complaints of one person."""
    by_report = curve_of(table)
    rows = zip(curve.visits, curve.share, curve.low, curve.high, curve.at_risk, curve.events, strict=True)
    readings = []
    for weeks, share, low, high, at_risk, events in rows:
        limits = widened(Estimate(float(share), float(low), float(high), ""), effect)
        is_mean_shown = min(events / TOO_FEW_EVENTS, at_risk / SMALL_CELL) >= 1
        readings.append(
            Reading(
                share=float(share),
                low=limits.low or 0.0,
                high=1.0 if limits.high is None else limits.high,
                at_risk=round(at_risk),
                events=round(events),
                mean=_mean(by_report, weeks, effect) if is_mean_shown else None,
            )
        )
    return tuple(readings)


def _mean(by_report: SurvivalCurve, weeks: float, effect: float) -> RestrictedMean:
    mean = restricted_mean(by_report, weeks)
    limits = widened(as_estimate(mean), effect, most=weeks)
    error = mean.standard_error * math.sqrt(effect)
    return replace(mean, standard_error=error, low=limits.low or 0.0, high=limits.high or weeks)


def _loss(rows: Sequence[DayCount], readings: Sequence[Reading | None], effect: float) -> Loss | None:
    """At the last follow-up up to which somebody was watched; None where nobody was lost or nobody watched."""
    lost = sum(row.lost_open for row in rows)
    last = max((k for k, item in enumerate(readings) if item is not None and item.at_risk), default=None)
    if lost == 0 or last is None:
        return None
    watched = [row for row in rows if row.days is not None]
    recurred = np.array([row.recurred for row in watched], dtype=np.float64)
    open_ended = np.array([row.complaints - row.recurred - row.lost_open for row in watched], dtype=np.float64)
    heard = _at_visits(watched, recurred, open_ended)
    gone = _at_visits(watched, 0.0 * recurred, np.array([row.lost_open for row in watched], dtype=np.float64))
    never = sum(row.lost_open for row in rows if row.days is None)
    left, people, begin = (
        np.append(part, last)
        for part, last in zip((gone.left, gone.people, gone.entered), (0.0, float(never), 0.0), strict=True)
    )
    final = float(len(MARK_WEEKS))
    stayed = onsets(np.full(left.size, final), np.full(left.size, np.inf), people, begin)
    # Whoever was free at the last follow-up already can't have had it before.
    back = onsets(left, np.where(left < final, left + 1.0, np.inf), people, begin)
    shown = (_at(heard, stayed, at=last), _at(heard, back, at=last), _weighted(watched, at=last))
    best, worst, weighted = (widened(estimate, effect) for estimate in shown)
    return Loss(MARK_WEEKS[last], lost, best, worst, weighted)


def _weighted(watched: Sequence[DayCount], *, at: int) -> Estimate:
    """Complaints that were not lost stand for those that were: weighted by one over the chance of answering."""
    weights = np.array([(row.recurred_weight, row.others_weight) for row in watched], dtype=np.float64).reshape(-1, 2)
    squares = sum(row.weight_squares for row in watched)
    # As many complaints as would be as precise without weights (Kish 1965).
    scale = float(weights.sum()) / squares if squares else 0.0
    return _at(_at_visits(watched, weights[:, 0] * scale, weights[:, 1] * scale), at=at)


def _at(*parts: Onsets, at: int) -> Estimate:
    together = onsets(
        *(np.concatenate([getattr(part, name) for part in parts]) for name in ("left", "right", "people", "entered"))
    )
    curve = visit_curve(together, MARK_WEEKS)
    return Estimate(float(curve.share[at]), float(curve.low[at]), float(curve.high[at]), curve.method)


def compare(first: Group, second: Group) -> Comparison:
    """Set two groups against each other at the last follow-up up to which five complaints of each are watched."""
    pairs = [
        (weeks, one, other)
        for weeks, one, other in zip(MARK_WEEKS, first.readings, second.readings, strict=False)
        if one is not None and other is not None and min(one.at_risk or 0, other.at_risk or 0) >= SMALL_CELL
    ]
    rates = _rates(first.by_person, second.by_person)
    if not pairs:
        missing = Estimate(None, None, None, "", "no follow-up up to which five complaints of each group are watched")
        return Comparison(None, missing, missing, missing, rates, too_few=True)
    weeks, one, other = pairs[-1]
    nothing = Estimate(None, None, None, "", "fewer than 10 recurrences in a group")
    mean, other_mean = (as_estimate(item.mean) if item.mean else nothing for item in (one, other))
    return Comparison(
        weeks=weeks,
        difference=difference_of(one.risk, other.risk),
        ratio=ratio_of(one.risk, other.risk),
        mean=difference_of(mean, other_mean),
        rates=rates,
        too_few=min(one.events, other.events) < TOO_FEW_EVENTS,
    )


def _rates(first: PersonSums | None, second: PersonSums | None) -> RateRatio | None:
    if first is None or second is None or not (first.exposure and second.exposure):
        return None
    return rate_ratio_of_people(first, second)
