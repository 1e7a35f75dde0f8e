"""What one touch takes over from the last fitting of a customer into fields that are still empty.

Nothing is taken over by itself: what changes the result is asked again, and only offered.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.http import QueryDict
from django.utils import timezone

from core.web.display import day
from fittings.domain.fitting.carry_over import feet_hold
from fittings.forms.fitting.section import in_units
from fittings.forms.fitting.sections import HISTORY_ROWS, FeetSection
from fittings.models import Fitting, HistoryItem
from fittings.selectors.people.lists import worn_choice

ROW = "#"
"""Means the number of a row of complaints: the first that is still empty is taken."""
Group = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Offer:
    """What can be taken over, in words, and the fields that it fills: those of a group together or not at all."""

    name: str
    words: str
    groups: tuple[Group, ...]

    @property
    def fields(self) -> str:
        """The groups as the page's script takes them."""
        return json.dumps([dict(group) for group in self.groups])


def offers(fitting: Fitting, units: str, *, under_age: bool) -> tuple[Offer, ...]:
    """Return what a new fitting may take over from the last one, read by `last_fitting`."""
    listed = (_feet(fitting, units, under_age), _shoe(fitting), _insole(fitting), _complaints(fitting))
    return tuple(offer for offer in listed if offer.groups)


def _feet(fitting: Fitting, units: str, under_age: bool) -> Offer:
    measured = {
        f"foot-{foot.foot}-{name}": f"{value:g}"
        for foot in fitting.feet.all()
        for name, value in (("length_mm", foot.length_mm), ("width_mm", foot.width_mm))
        if value is not None
    }
    on: dt.date = timezone.localdate(fitting.at)
    holds = feet_hold(on, timezone.localdate(), under_age=under_age)
    written = in_units(FeetSection, measured, units) if holds else {}
    groups = tuple({name: str(written[name])} for name in measured if name in written)
    return Offer("feet", f"the feet as measured on {day(on)}", groups)


def _shoe(fitting: Fitting) -> Offer:
    choice = worn_choice(fitting)
    title = f"{choice.shoe.brand.name} {choice.shoe.title}" if choice else ""
    return Offer("shoe", f"{title} as the shoe worn now", ({"intake-current_shoe": title},) if title else ())


def _insole(fitting: Fitting) -> Offer:
    words = f"what is worn in the shoe: {fitting.get_insole_display()}"
    return Offer("insole", words, ({"intake-insole": fitting.insole},) if fitting.insole else ())


def _complaints(fitting: Fitting) -> Offer:
    groups = tuple(_complaint(item) for item in fitting.history.all()[:HISTORY_ROWS])
    return Offer("complaints", "the complaints (ask whether each is still there)", groups)


def _complaint(item: HistoryItem) -> Group:
    said = {
        "region": item.region,
        "side": item.side,
        "state": "now" if item.now else "past",
        "settled_on": item.settled_on.isoformat() if item.settled_on else "",
    }
    return {f"history-{ROW}-{name}": text for name, text in said.items()}


def carried(data: QueryDict, offer: Offer) -> QueryDict:
    """What was sent, with what is offered in the fields that are still empty; twice is once."""
    changed = data.copy()
    for group in offer.groups:
        rows = [{name.replace(ROW, str(row)): text for name, text in group.items()} for row in range(HISTORY_ROWS)]
        if any(_has(changed, row) for row in rows):
            continue
        for name, text in next((row for row in rows if not changed.get(next(iter(row)))), {}).items():
            changed[name] = text
    return changed


def _has(data: Mapping[str, Any], row: Group) -> bool:
    return all(data.get(name) == text for name, text in row.items())
