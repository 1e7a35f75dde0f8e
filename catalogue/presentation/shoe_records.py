"""Shoes and brands as the lab and head office look after them: facts, states, what was changed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from catalogue.forms.shoe_records import barcode_line
from catalogue.models import Wearer
from catalogue.presentation.words import USE_NAMES
from catalogue.selectors.records.shoe_records import DRAFT, MEASURED, MERGED, PUBLISHED, STATES, WITHDRAWN
from core.audit import sentence, who
from core.models import AuditEntry
from core.web import display

WEARERS: Mapping[str, str] = {str(value): str(label) for value, label in Wearer.choices}
STATE_CSS = {
    DRAFT: "state--wait",
    MEASURED: "state--wait",
    PUBLISHED: "state--good",
    WITHDRAWN: "state--stop",
    MERGED: "state--off",
}
COLUMN_NAMES = {
    "slug": "address",
    "brand_id": "brand",
    "name": "name",
    "version": "version",
    "use": "made for",
    "wearer": "for whom",
    "mass_g": "mass (g)",
    "stack_heel_mm": "stack, heel (mm)",
    "stack_forefoot_mm": "stack, forefoot (mm)",
    "previous_id": "version before",
    "is_discontinued": "discontinued",
    "widths": "width fittings",
    "smallest_size_eu": "smallest size (EU)",
    "largest_size_eu": "largest size (EU)",
    "stated_size_eu": "stated for size (EU)",
    "removable_insole": "removable insole",
    "season": "season",
    "list_prices": "list prices",
    "note": "our note",
    "alternative_names": "alternative names",
    "merged_into_id": "merged into",
    "barcodes": "barcodes",
    "old_addresses": "earlier addresses",
}
SHOWN_MOST = 200


@dataclass(frozen=True, slots=True)
class StateText:
    word: str
    css: str


@dataclass(frozen=True, slots=True)
class ChangeText:
    """One column that an entry changed."""

    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class EntryText:
    """One entry of a shoe's or brand's history."""

    at: str
    who: str
    what: str
    reason: str
    changes: tuple[ChangeText, ...]


def state_text(shoe: Any) -> StateText:
    """Return the state of a shoe from `selectors.shoe_records`, as a word and its shape."""
    return StateText(STATES[shoe.state], STATE_CSS[shoe.state])


def price_text(prices: Mapping[str, str]) -> str:
    """Write list prices: "EUR 139.90, SEK 1495.00"."""
    return ", ".join(f"{currency}{display.NO_BREAK}{amount}" for currency, amount in sorted(prices.items()))


def insole_text(value: bool | None) -> str:
    return display.MISSING if value is None else "removable" if value else "fixed"


def size_run_text(shoe: Any) -> str:
    """Write the sizes that are made: "EU 36 to 42.5"."""
    low, high = shoe.smallest_size_eu, shoe.largest_size_eu
    if low is None and high is None:
        return display.MISSING
    if low is None or high is None:
        return f"up to {display.size(high)}" if low is None else f"from {display.size(low)}"
    return f"{display.size(low)} to {display.bare_size(high)}"


def record_facts(shoe: Any, units: str) -> list[tuple[str, str]]:
    """Return everything that is stated of a shoe."""
    missing = display.MISSING
    stated_for = f" (size {display.size(shoe.stated_size_eu)})" if shoe.stated_size_eu is not None else ""
    return [
        ("Made for", USE_NAMES[shoe.use]),
        ("For whom", WEARERS[shoe.wearer]),
        ("Sizes made", size_run_text(shoe)),
        ("Width fittings", ", ".join(shoe.widths) or missing),
        (f"Mass{stated_for}", display.measure(shoe.mass_g, "mass", units)),
        (f"Stack, heel{stated_for}", display.measure(shoe.stack_heel_mm, "length", units)),
        (f"Stack, forefoot{stated_for}", display.measure(shoe.stack_forefoot_mm, "length", units)),
        ("Drop", display.measure(shoe.drop_mm, "length", units)),
        ("Insole", insole_text(shoe.removable_insole)),
        ("Season", shoe.season or missing),
        ("List price", price_text(shoe.list_prices) or missing),
        ("Alternative names", ", ".join(shoe.alternative_names) or missing),
        ("Barcodes", "; ".join(barcode_line(row) for row in shoe.barcodes.all()) or missing),
        ("Address of its page", f"/shoes/{shoe.slug}/"),
        ("Earlier addresses", ", ".join(f"/shoes/{row.slug}/" for row in shoe.old_addresses.all()) or missing),
    ]


def history(entries: Iterable[AuditEntry]) -> list[EntryText]:
    """Write the entries of a record, read `with_people`, as they come."""
    return [
        EntryText(
            at=display.moment(entry.at),
            who=who(entry),
            what=sentence(entry),
            reason=entry.content["reason"],
            changes=tuple(_changes(entry)),
        )
        for entry in entries
    ]


def _changes(entry: AuditEntry) -> Iterable[ChangeText]:
    before, after = entry.content["before"] or {}, entry.content["after"] or {}
    for name in sorted(before.keys() & COLUMN_NAMES.keys(), key=list(COLUMN_NAMES).index):
        yield ChangeText(COLUMN_NAMES[name], _value(before[name]), _value(after.get(name)))


def _value(value: Any) -> str:
    match value:
        case None | "" | [] | {}:
            return display.MISSING
        case bool():
            return "yes" if value else "no"
        case dict():
            return price_text(value)
        case [dict(), *_]:
            return ", ".join(str(row.get("gtin") or row.get("slug")) for row in value)
        case list():
            return ", ".join(map(str, value))
    text = str(value)
    return text if len(text) <= SHOWN_MOST else f"{text[:SHOWN_MOST]}…"
