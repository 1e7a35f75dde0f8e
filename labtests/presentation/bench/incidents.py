"""Incidents in words: what one touches, prepared for its page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from core.web import display
from labtests.models import Incident, IncidentState, State

STATE_CSS = {
    IncidentState.PROPOSED: "state--wait",
    IncidentState.CARRIED_OUT: "state--stop",
    IncidentState.DISMISSED: "state--off",
}


@dataclass(frozen=True, slots=True)
class BenchTestLine:
    """A test that is taken back, with its state before."""

    id: int
    state: str
    shoe: str
    specimen: str
    performed: str


@dataclass(frozen=True, slots=True)
class ShoeLine:
    """A published shoe whose card changes."""

    slug: str
    name: str
    now: str
    then: str
    is_withdrawn: bool
    because: str


@dataclass(frozen=True, slots=True)
class TouchedPage:
    """What an incident touches, as its page shows it; `more_…` counts what is not listed."""

    summary: tuple[tuple[str, str], ...]
    tests: tuple[BenchTestLine, ...]
    more_tests: int
    shoes: tuple[ShoeLine, ...]
    more_shoes: int
    stores: tuple[tuple[str, int], ...]


def state_css(incident: Incident) -> str:
    return STATE_CSS[IncidentState(incident.state)]


def touched_page(touched: Mapping[str, Any], names: Mapping[str, str]) -> TouchedPage:
    """Prepare the answer of `selectors.bench.incidents.touched_body`; `names` are those of shoes by address."""
    tests, shoes, cards = (touched[name] for name in ("tests", "shoes", "wall_cards"))
    printed = [card["store"] for card in cards["results"]]
    return TouchedPage(
        summary=_summary(touched),
        tests=tuple(_test_line(test, names) for test in tests["results"]),
        more_tests=tests["count"] - len(tests["results"]),
        shoes=tuple(_shoe_line(shoe) for shoe in shoes["results"]),
        more_shoes=shoes["count"] - len(shoes["results"]),
        stores=tuple((store["name"], printed.count(store["slug"])) for store in touched["stores"]["results"]),
    )


def _summary(touched: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    fittings = touched["fittings"]
    withdrawn = sum(shoe["becomes"] == "withdrawn" for shoe in touched["shoes"]["results"])
    return (
        ("Tests", str(touched["tests"]["count"])),
        ("Published shoes", f"{touched['shoes']['count']}, of which withdrawn: {withdrawn}"),
        ("Wall cards that go out of date", str(touched["wall_cards"]["count"])),
        ("Stores concerned", str(touched["stores"]["count"])),
        ("Fittings that ended in these shoes", str(fittings["count"])),
        ("Customers to inform, by their stores", str(fittings["customers"])),
    )


def _test_line(test: Mapping[str, Any], names: Mapping[str, str]) -> BenchTestLine:
    performed = display.moment(dt.datetime.fromisoformat(test["performed"]))
    shoe = names.get(test["shoe"], test["shoe"])
    return BenchTestLine(test["id"], str(State(test["state"]).label), shoe, test["specimen"], performed)


def _shoe_line(shoe: Mapping[str, Any]) -> ShoeLine:
    is_withdrawn = shoe["becomes"] == "withdrawn"
    then = "" if is_withdrawn else f"{display.number(shoe['stability_then'])}, {shoe['band_then']}"
    now = f"{display.number(shoe['stability'])}, {shoe['band']}"
    return ShoeLine(shoe["slug"], shoe["name"], now, then, is_withdrawn, " ".join(shoe["because"]))
