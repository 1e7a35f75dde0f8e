"""Need rules to and from plain data, so that a version of them can be kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields

from fittings.domain.bounds import number_within, whole_within
from fittings.domain.fitting.need import NeedRules, Step
from fittings.domain.regions import read_region
from fittings.domain.shoes.match_rules import MatchRules

POINTS_RANGE = (-100.0, 200.0)
THRESHOLD_RANGE = (-1000.0, 1000.0)
WIDTHS = {"half_width": (0.5, 50.0), "half_width_per_left_out": (0.0, 20.0)}
"""Limits of the half-widths: a target is never empty and never the whole scale."""
MATCH_RANGES = {"drop_change_warned_mm": (0.0, 30.0), "probability_step": (0.01, 0.5), "nearest_shown": (1, 20)}

_GRADED = ("pronation", "tibial_rotation", "rearfoot_eversion")
_STEPPED = ("fpi6_at_least", "running_mass_above_kg")


def rules_to_data(rules: NeedRules) -> dict[str, object]:
    """The rules as plain data, fit for JSON (tuples become lists there).

    Parameters
    ----------
    rules : NeedRules
        Any version.

    Returns
    -------
    dict
        One entry a field.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> from fittings.domain.fitting.need import N1
    >>> rules_to_data(N1)["half_width"]
    6.0
    """
    return asdict(rules)


def rules_from_data(data: Mapping[str, object]) -> NeedRules:
    """The rules that were kept as plain data.

    Parameters
    ----------
    data : mapping
        What `rules_to_data` gave, after a trip through JSON or not.

    Returns
    -------
    NeedRules
        Checked rules.

    Raises
    ------
    TypeError, ValueError
        When an entry is missing, unknown, of the wrong kind or out of range; the message names it.

    Examples
    --------
    >>> from fittings.domain.fitting.need import N1
    >>> rules_from_data(rules_to_data(N1)) == N1
    True
    """
    names = {field.name for field in fields(NeedRules)}
    if set(data) != names:
        odd = ", ".join(sorted(set(data) ^ names))
        raise ValueError(f"need rules must have exactly the entries {', '.join(sorted(names))}; differs in {odd}")
    values: dict[str, object] = {}
    for name, value in data.items():
        if name in _GRADED:
            values[name] = _four(name, value)
        elif name in _STEPPED:
            values[name] = _steps(name, value)
        elif name == "regions":
            values[name] = tuple(read_region(item) for item in _listed(name, value))
        elif name == "version":
            values[name] = _version(value)
        else:
            values[name] = number_within(name, value, *WIDTHS.get(name, POINTS_RANGE))
    return NeedRules(**values)  # type: ignore[arg-type]  # each entry was checked above


def match_from_data(data: Mapping[str, object]) -> MatchRules:
    """The rules of the match that were kept as plain data (`dataclasses.asdict`); what is missing is as in `M1`.

    Parameters
    ----------
    data : mapping
        One entry a field, any of them left out.

    Returns
    -------
    MatchRules
        Checked rules.

    Raises
    ------
    TypeError, ValueError
        When an entry is unknown, of the wrong kind or out of range; the message names it.

    Examples
    --------
    >>> match_from_data({"drop_change_warned_mm": 6}).drop_change_warned_mm
    6.0
    """
    unknown = sorted(set(data) - set(MATCH_RANGES))
    if unknown:
        raise ValueError(f"match rules must be of {', '.join(MATCH_RANGES)}, got {', '.join(unknown)}")
    values: dict[str, float] = {}
    for name, value in data.items():
        low, high = MATCH_RANGES[name]
        if name == "nearest_shown":
            values[name] = whole_within(name, value, int(low), int(high))
        else:
            values[name] = number_within(name, value, low, high)
    return MatchRules(**values)  # type: ignore[arg-type]  # each entry was checked above


def _version(value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError(f"version must be a text, got {value!r}")
    return value


def _listed(name: str, value: object) -> list[object]:
    if not isinstance(value, (list, tuple)):
        raise TypeError(f"{name} must be a list, got {value!r}")
    return list(value)


def _four(name: str, value: object) -> tuple[float, ...]:
    points = _listed(name, value)
    if len(points) != 4:
        raise ValueError(f"{name} must have points for the 4 grades, got {len(points)}")
    return tuple(number_within(f"{name} points", item, *POINTS_RANGE) for item in points)


def _steps(name: str, value: object) -> tuple[Step, ...]:
    steps: list[Step] = []
    for item in _listed(name, value):
        pair = _listed(name, item)
        if len(pair) != 2:
            raise ValueError(f"{name} must have pairs of threshold and points, got {item!r}")
        threshold = number_within(f"{name} threshold", pair[0], *THRESHOLD_RANGE)
        steps.append((threshold, number_within(f"{name} points", pair[1], *POINTS_RANGE)))
    return tuple(sorted(steps, reverse=True))
