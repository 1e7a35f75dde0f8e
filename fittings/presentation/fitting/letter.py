"""A letter to a clinician, in words. Nothing in it is a diagnosis."""

from __future__ import annotations

from dataclasses import dataclass

from core.web import display
from fittings.domain.fitting.need import USES
from fittings.models import Fitting
from fittings.presentation.fitting.fittings import feet_rows
from fittings.selectors.fitting.referral import referral_of_fitting


@dataclass(frozen=True, slots=True)
class LetterLines:
    """What a letter has besides the answers: what was seen, what was advised, and why the person is sent."""

    seen: tuple[tuple[str, str, str], ...]
    hip: str
    advised: str
    chosen: str
    reasons: tuple[str, ...]


def letter_lines(fitting: Fitting, units: str) -> LetterLines:
    """Word a letter. One read for the feet; the choice comes with the fitting."""
    choice = getattr(fitting, "choice", None)
    seen = (row for row in feet_rows(fitting, units) if any(value not in _UNSEEN for value in row[1:]))
    return LetterLines(
        seen=tuple(seen),
        hip=_HIP[fitting.hip_weak],
        advised=_advised(fitting),
        chosen=f"{choice.shoe.brand.name} {choice.shoe.title}, measured stability {display.number(choice.stability)}"
        if choice
        else "no shoe was chosen",
        reasons=referral_of_fitting(fitting).advice,
    )


_UNSEEN = ("not checked", display.MISSING)
_HIP = {True: "gave way", False: "did not give way", None: "not checked"}


def _advised(fitting: Fitting) -> str:
    low, high = display.number(fitting.need_low, 0), display.number(fitting.need_high, 0)
    return (
        f"a shoe for {USES.get(fitting.use, fitting.use)} with a measured stability between {low} and {high} on our "
        "scale from 0 to 100, by rules that are common practice in the trade, without a published source"
    )
