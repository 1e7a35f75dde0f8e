"""The old shoe against the new one, in words, and the weeks to change over."""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.models import ScoreCard, Shoe
from core.web import display
from fittings.domain.shoes.changeover import (
    Change,
    ShoeFacts,
    changes_between,
    share_by_week,
    weeks_to_change,
)

LABELS = {
    "stability": ("Stability", ""),
    "stack_heel_mm": ("Height at the heel", "length"),
    "drop_mm": ("Drop", "length"),
    "mass_g": ("Mass", "mass"),
    "cushioning": ("Cushioning", ""),
}
STOP = "Go back to the old shoes for a few days when something hurts, and tell us. Common practice, no source."


@dataclass(frozen=True, slots=True)
class ChangeRow:
    what: str
    old: str
    new: str
    change: str
    is_large: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """One shoe against the one worn now, with a line for each week of the change-over where much changes."""

    title: str
    worn: str
    rows: tuple[ChangeRow, ...]
    summary: str
    plan: tuple[str, ...]


def facts_of(shoe: Shoe, card: ScoreCard | None) -> ShoeFacts:
    """What a shoe is compared by; without a score card what the maker states alone."""
    return ShoeFacts(
        stability=card.stability if card else None,
        stack_heel_mm=shoe.stack_heel_mm,
        drop_mm=shoe.drop_mm,
        mass_g=shoe.mass_g,
        cushioning=card.cushioning if card else None,
    )


def comparison(
    worn: Shoe, worn_card: ScoreCard | None, new: Shoe, new_card: ScoreCard | None, units: str
) -> Comparison | None:
    """Word the change from one shoe to another; None where it is the same shoe or nothing of both is known."""
    changes = changes_between(facts_of(worn, worn_card), facts_of(new, new_card))
    if worn.pk == new.pk or all(change.difference is None for change in changes):
        return None
    weeks = weeks_to_change(changes)
    return Comparison(
        f"{new.brand.name} {new.title}",
        f"{worn.brand.name} {worn.title}",
        tuple(_row(change, units) for change in changes),
        _summary(changes, weeks),
        _plan(weeks),
    )


def _row(change: Change, units: str) -> ChangeRow:
    label, kind = LABELS[change.what]

    def worded(value: float | None) -> str:
        return display.measure(value, kind, units) if kind else display.number(value)

    sign = "+" if change.difference is not None and change.difference > 0 else ""
    difference = worded(change.difference).replace("-", display.MINUS)
    return ChangeRow(label, worded(change.old), worded(change.new), f"{sign}{difference}", change.is_large)


def _summary(changes: tuple[Change, ...], weeks: int) -> str:
    large = [LABELS[change.what][0].lower() for change in changes if change.is_large]
    if not large:
        return "Much like the shoe worn now."
    return f"Changes much in {display.listed(large)}: change over in {weeks} weeks."


def _plan(weeks: int) -> tuple[str, ...]:
    shares = share_by_week(weeks)
    return tuple(
        f"Week {week}: about {share}{display.NO_BREAK}% in the new shoes" for week, share in enumerate(shares, 1)
    )
