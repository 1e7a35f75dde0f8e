"""Hours of conditioning from the chambers' log, and what to say where a file claims something else.

The rule, in words (common practice, no source for its figures):

- Hours count while the specimen is in a chamber, up to the test or until it was taken out, whichever is earlier.
- Up to `MOST_OUT_H` between the chamber and the test, or between two chambers, is handling: it counts neither way.
- Out for longer before the test, each further hour takes an hour away, and the test is held whatever is left: foam
  takes on the room's temperature about as fast as it had taken on the chamber's.
- Out for longer between two stays, the count starts again with the second.
- The log speaks of a test where the specimen lay in a chamber at any time within the hours that the file claims, at
  least the protocol's, before the test. Where it does not speak, the file's claim is used, marked as claimed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from labtests.domain.scores.protocol import Reason

# Common practice, no source: carrying over, clamping and a few repeats.
MOST_OUT_H = 1.0
# A claim rounded to the whole hour is off by this much at most.
CLAIM_TOLERANCE_H = 0.5
# A difference met exactly must not be reported for the last bit of a division.
ROUNDING_H = 1e-9
HOUR = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Stay:
    """One stay of a specimen in a chamber; `out_at` is None while it is there. Times carry their offset."""

    entry: int
    chamber: str
    in_at: datetime
    out_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class LoggedHours:
    """What the log says of a test: hours that count, hours since it was taken out, and the stays behind them."""

    hours: float
    out_h: float
    stays: tuple[Stay, ...]

    @property
    def since(self) -> datetime:
        return self.stays[0].in_at

    @property
    def last(self) -> Stay:
        return self.stays[-1]


def hours_between(start: datetime, end: datetime) -> float:
    """Hours from one time to another.

    Examples
    --------
    >>> from datetime import UTC
    >>> hours_between(datetime(2026, 3, 2, 10, tzinfo=UTC), datetime(2026, 3, 4, 10, 30, tzinfo=UTC))
    48.5
    """
    return (end - start) / HOUR


def conditioning_from_log(stays: Sequence[Stay], *, at: datetime, window_h: float) -> LoggedHours | None:
    """Hours of conditioning at a time, from the log.

    Parameters
    ----------
    stays : sequence of Stay
        Of one specimen, struck entries left out, in any order, not overlapping.
    at : datetime
        When the test was performed.
    window_h : float
        Hours before the test within which the log is asked, ≥ 0: what the file claims, at least the protocol's.

    Returns
    -------
    LoggedHours or None
        None where no stay reaches into the window: the log does not speak of this test.

    Raises
    ------
    ValueError
        When `window_h` is below 0.

    Notes
    -----
    See the rule on top of this module.

    Examples
    --------
    >>> from datetime import UTC
    >>> stay = Stay(1, "C-1", datetime(2026, 3, 2, 10, tzinfo=UTC), datetime(2026, 3, 4, 12, tzinfo=UTC))
    >>> conditioning_from_log([stay], at=datetime(2026, 3, 4, 12, 30, tzinfo=UTC), window_h=48.0).hours
    50.0
    >>> conditioning_from_log([stay], at=datetime(2026, 3, 4, 16, tzinfo=UTC), window_h=48.0).hours
    47.0
    """
    if not window_h >= 0.0:
        raise ValueError(f"window_h must be ≥ 0, got {window_h}")
    run = unbroken_run(stays, at=at)
    if not run:
        return None
    out_h = hours_between(_end(run[-1], at), at)
    if out_h > window_h:
        return None
    inside = sum(hours_between(stay.in_at, _end(stay, at)) for stay in run)
    return LoggedHours(max(0.0, inside - max(0.0, out_h - MOST_OUT_H)), out_h, run)


def unbroken_run(stays: Sequence[Stay], *, at: datetime) -> tuple[Stay, ...]:
    """The stays that lead up to a time with no longer break between them than handling takes, oldest first.

    Examples
    --------
    >>> from datetime import UTC
    >>> first = Stay(1, "C-1", datetime(2026, 3, 1, tzinfo=UTC), datetime(2026, 3, 2, tzinfo=UTC))
    >>> second = Stay(2, "C-2", datetime(2026, 3, 4, tzinfo=UTC))
    >>> [stay.entry for stay in unbroken_run([first, second], at=datetime(2026, 3, 5, tzinfo=UTC))]
    [2]
    """
    begun = sorted((stay for stay in stays if stay.in_at < at), key=lambda stay: stay.in_at, reverse=True)
    run: list[Stay] = []
    for stay in begun:
        if run and hours_between(_end(stay, at), run[-1].in_at) > MOST_OUT_H + ROUNDING_H:
            break
        run.append(stay)
    return tuple(reversed(run))


def ready_at(run: Sequence[Stay], *, required_h: float) -> datetime:
    """When a specimen that is in a chamber will have its hours: those of the stays before count.

    Parameters
    ----------
    run : sequence of Stay
        From `unbroken_run`, n ≥ 1; the last is the one at hand.
    required_h : float
        The protocol's hours, ≥ 0.

    Examples
    --------
    >>> from datetime import UTC
    >>> ready_at([Stay(1, "C-1", datetime(2026, 3, 2, 10, tzinfo=UTC))], required_h=48.0).isoformat()
    '2026-03-04T10:00:00+00:00'
    """
    if not run:
        raise ValueError("run must hold ≥ 1 stay, got 0")
    if not required_h >= 0.0:
        raise ValueError(f"required_h must be ≥ 0, got {required_h}")
    last = run[-1]
    before = sum(hours_between(stay.in_at, _end(stay, last.in_at)) for stay in run[:-1])
    return last.in_at + max(0.0, required_h - before) * HOUR


def check_against_log(logged: LoggedHours, claims: Sequence[float]) -> tuple[Reason, ...]:
    """Say why a test must be held by what the log says; too few hours are checked by the protocol.

    Parameters
    ----------
    logged : LoggedHours
        What the log says.
    claims : sequence of float, shape (n,)
        Hours that the file claims, one or one a repeat, n ≥ 1; the one farthest from the log is named.

    Returns
    -------
    tuple of Reason
        Empty where the specimen came from the chamber and the claim agrees.

    Examples
    --------
    >>> from datetime import UTC
    >>> stay = Stay(1, "C-1", datetime(2026, 3, 2, 10, tzinfo=UTC))
    >>> logged = conditioning_from_log([stay], at=datetime(2026, 3, 4, 12, tzinfo=UTC), window_h=48.0)
    >>> check_against_log(logged, [60.0])[0].message
    'the conditioning log gives 50.00 h, the file claims 60.00 h; they may differ by 0.5 h at most'
    """
    reasons = []
    if logged.out_h > MOST_OUT_H + ROUNDING_H:
        message = (
            f"the specimen was taken out of chamber {logged.last.chamber} {logged.out_h:.2f} h before the test; "
            f"accepted: at most {MOST_OUT_H:g} h"
        )
        reasons.append(Reason("conditioning_lapsed", message))
    farthest = max(claims, key=lambda claim: abs(claim - logged.hours))
    if abs(farthest - logged.hours) > CLAIM_TOLERANCE_H + ROUNDING_H:
        message = (
            f"the conditioning log gives {logged.hours:.2f} h, the file claims {farthest:.2f} h; "
            f"they may differ by {CLAIM_TOLERANCE_H:g} h at most"
        )
        reasons.append(Reason("conditioning_differs", message))
    return tuple(reasons)


def doubt_now(logged: LoggedHours | None, *, counted_h: float, is_from_log: bool, required_h: float) -> str:
    """Say why hours that a test was approved with can't be relied on any more, by the log as it is now.

    Parameters
    ----------
    logged : LoggedHours or None
        What the log says of the test now.
    counted_h : float
        The hours that the test was approved with.
    is_from_log : bool
        Whether these came from the log.
    required_h : float
        The protocol's hours, ≥ 0.

    Returns
    -------
    str
        Empty where nothing is in doubt: a stay that was struck and written again, as it was, counts again.

    Examples
    --------
    >>> doubt_now(None, counted_h=50.0, is_from_log=True, required_h=48.0)
    'the entry of the conditioning log that its hours came from was struck'
    """
    if logged is None:
        return "the entry of the conditioning log that its hours came from was struck" if is_from_log else ""
    reasons = [reason.message for reason in check_against_log(logged, [counted_h])]
    if reasons:
        return "; ".join(reasons).replace("the file claims", "it was approved with")
    if logged.hours < required_h - ROUNDING_H:
        return f"the conditioning log gives {logged.hours:.2f} h; accepted: at least {required_h:g} h"
    return ""


def _end(stay: Stay, at: datetime) -> datetime:
    """When a stay ended, seen from a time: that time itself while it lasts."""
    return at if stay.out_at is None else min(stay.out_at, at)
