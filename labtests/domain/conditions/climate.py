"""The climate of a chamber while a specimen was in it: how much of a stay the loggers cover, and excursions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from core.domain.figures import figure
from core.domain.units import FloatArray
from labtests.domain.conditions.conditioning import HOUR, Stay
from labtests.domain.scores.protocol import Limit, Reason

# A limit met in other units must not fail for the last bit of the conversion.
ROUNDING_C = 1e-9
# Loggers write every few minutes to once an hour. A longer gap is time of which the log does not speak.
MOST_GAP_S = 2 * 3600.0
EXCURSION = "climate_excursion"


@dataclass(frozen=True, slots=True, eq=False)
class ClimateSeries:
    """Readings of one chamber, shape (n,), in the order of time: s since 1970 (UTC), °C, % (empty where not logged)."""

    chamber: str
    times: FloatArray
    temperatures_c: FloatArray
    humidities: FloatArray


@dataclass(frozen=True, slots=True)
class Excursion:
    """A run of readings outside the accepted range: when, and the reading farthest outside."""

    chamber: str
    begin: datetime
    end: datetime
    worst_c: float


@dataclass(frozen=True, slots=True)
class StayClimate:
    """What the loggers say of the stays before a test: hours of the stays, hours covered, and excursions."""

    stayed_h: float
    covered_h: float
    excursions: tuple[Excursion, ...]


def excursions_in(series: ClimateSeries, limit: Limit, *, since: datetime, until: datetime) -> tuple[Excursion, ...]:
    """Find the runs of readings outside a range of temperature.

    Parameters
    ----------
    series : ClimateSeries
    limit : Limit
        Accepted temperatures, °C, both ends included.
    since, until : datetime
        The stay, both ends included.

    Returns
    -------
    tuple of Excursion
        In the order of time. Each single reading outside counts; nothing is smoothed.

    Examples
    --------
    >>> from datetime import timedelta
    >>> start = datetime(2026, 3, 2, 10, tzinfo=UTC)
    >>> times = start.timestamp() + 600.0 * np.arange(4)
    >>> series = ClimateSeries("C-1", times, np.array([23.0, 26.0, 26.5, 23.0]), np.array([]))
    >>> found = excursions_in(series, Limit(23.0, 21.0, 25.0), since=start, until=start + timedelta(hours=1))
    >>> [(one.worst_c, one.begin.minute, one.end.minute) for one in found]
    [(26.5, 10, 20)]
    """
    inside = (series.times >= since.timestamp()) & (series.times <= until.timestamp())
    times, values = series.times[inside], series.temperatures_c[inside]
    low, high = (-np.inf if limit.low is None else limit.low), (np.inf if limit.high is None else limit.high)
    beyond = np.maximum(low - values, values - high)
    is_out = np.concatenate(([False], beyond > ROUNDING_C, [False]))
    edges = np.flatnonzero(is_out[1:] != is_out[:-1]).reshape(-1, 2)
    return tuple(
        Excursion(
            series.chamber,
            _moment(times[first]),
            _moment(times[last - 1]),
            float(values[first + int(np.argmax(beyond[first:last]))]),
        )
        for first, last in edges.tolist()
    )


def covered_hours(logs: Iterable[ClimateSeries], *, since: datetime, until: datetime) -> float:
    """Hours of a stay that the loggers cover: between readings at most two hours apart, each hour counted once.

    Examples
    --------
    >>> start = datetime(2026, 3, 2, 10, tzinfo=UTC)
    >>> times = start.timestamp() + 3600.0 * np.array([0.0, 1.0, 2.0, 9.0])
    >>> series = ClimateSeries("C-1", times, np.full(4, 23.0), np.array([]))
    >>> covered_hours([series], since=start, until=datetime(2026, 3, 2, 20, tzinfo=UTC))
    2.0
    """
    every = [series.times for series in logs]
    if not every:
        return 0.0
    times = np.unique(np.concatenate(every))
    begins, ends = times[:-1], times[1:]
    spans = np.minimum(ends, until.timestamp()) - np.maximum(begins, since.timestamp())
    return float(np.clip(spans[ends - begins <= MOST_GAP_S], 0.0, None).sum() / 3600.0)


def climate_of_stays(
    stays: Sequence[Stay], logs: Sequence[ClimateSeries], limit: Limit, *, at: datetime
) -> StayClimate:
    """Return what the loggers say of the stays that a test's hours come from.

    Parameters
    ----------
    stays : sequence of Stay
        From `unbroken_run`.
    logs : sequence of ClimateSeries
        Of any chambers; each stay looks at those of its own.
    limit : Limit
        The protocol's temperatures, °C.
    at : datetime
        When the test was performed.

    Examples
    --------
    >>> stay = Stay(1, "C-1", datetime(2026, 3, 2, 10, tzinfo=UTC), datetime(2026, 3, 4, 12, tzinfo=UTC))
    >>> climate_of_stays([stay], [], Limit(23.0, 21.0, 25.0), at=datetime(2026, 3, 4, 12, 30, tzinfo=UTC)).covered_h
    0.0
    """
    stayed = covered = 0.0
    excursions: list[Excursion] = []
    for stay in stays:
        until = at if stay.out_at is None else min(stay.out_at, at)
        ours = [series for series in logs if series.chamber == stay.chamber]
        stayed += (until - stay.in_at) / HOUR
        covered += covered_hours(ours, since=stay.in_at, until=until)
        for series in ours:
            excursions.extend(excursions_in(series, limit, since=stay.in_at, until=until))
    return StayClimate(stayed, covered, tuple(sorted(excursions, key=lambda one: one.begin)))


def check_climate(climate: StayClimate, limit: Limit) -> tuple[Reason, ...]:
    """Say why a test must be held by the climate of its chamber; the excursion farthest outside is named.

    Examples
    --------
    >>> moment = datetime(2026, 3, 3, 4, tzinfo=UTC)
    >>> one = Excursion("C-1", moment, moment, 27.25)
    >>> check_climate(StayClimate(48.0, 48.0, (one,)), Limit(23.0, 21.0, 25.0))[0].message
    'chamber C-1 was at 27.25 °C on 2026-03-03 at 04:00 UTC, during the conditioning; accepted: 21 to 25 °C'
    """
    if not climate.excursions:
        return ()
    middle = limit.nominal
    worst = max(climate.excursions, key=lambda one: abs(one.worst_c - middle))
    more = len(climate.excursions) - 1
    also = f" ({more} more excursion{'s' if more > 1 else ''})" if more else ""
    accepted = (
        f"{'any' if limit.low is None else figure(limit.low)} to {'any' if limit.high is None else figure(limit.high)}"
    )
    message = (
        f"chamber {worst.chamber} was at {figure(worst.worst_c, 4)} °C on {_span(worst)}, during the "
        f"conditioning{also}; accepted: {accepted} °C"
    )
    return (Reason(EXCURSION, message),)


def _moment(seconds: float) -> datetime:
    return datetime.fromtimestamp(float(seconds), UTC)


def _span(one: Excursion) -> str:
    begin, end = one.begin.astimezone(UTC), one.end.astimezone(UTC)
    if begin == end:
        return f"{begin:%Y-%m-%d} at {begin:%H:%M} UTC"
    same_day = begin.date() == end.date()
    return f"{begin:%Y-%m-%d} from {begin:%H:%M} to {end:%H:%M}{'' if same_day else f' on {end:%Y-%m-%d}'} UTC"
