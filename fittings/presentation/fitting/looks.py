"""Looks in motion in words: what was seen in each, and what each shoe changed from barefoot."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from core.web import display
from fittings.domain.fitting.angles import KINDS
from fittings.domain.fitting.grading import MEASURED
from fittings.domain.fitting.intake import Condition, FootIntake, Look
from fittings.domain.fitting.looks import BETTER, MOVEMENTS, WORSE, ShoeChange, SignChange, changes_of, condition_words
from fittings.domain.fitting.need import GRADE_WORDS
from fittings.models import SupersededLook
from fittings.presentation.fitting.angles import in_unit
from fittings.selectors.fitting.looks import FittingLooks

SIGN_WORDS = {
    "pronation": "pronation",
    "tibial_rotation": "tibial rotation",
    "rearfoot_eversion": "rearfoot eversion",
}
ON_PICTURE = "rearfoot_eversion"
NOT_COMPARED = "not compared"
WARNING = "In this shoe the feet roll in more than barefoot. Try another shoe as well; comfort decides."
_STATES = {BETTER: "state--good", WORSE: "state--stop"}


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """What one shoe changed in one gait; `warning` is empty where nothing got worse."""

    what: str
    movement: str
    state: str
    details: str
    warning: str


@dataclass(frozen=True, slots=True)
class LookLine:
    """One look: its number, what it was, when and by whom, and the signs of each foot."""

    number: int
    what: str
    taken: str
    left: str
    right: str


def change_lines(changes: Iterable[ShoeChange], name_of: Callable[[str], str]) -> tuple[ChangeLine, ...]:
    return tuple(_change_line(item, name_of(item.condition.shoe)) for item in changes)


def _change_line(item: ShoeChange, name: str) -> ChangeLine:
    what = _capital(condition_words(item.condition, name))
    movement = item.movement
    if movement is None:
        words = f"No look {item.condition.gait} barefoot has the same signs, so there is nothing to compare."
        return ChangeLine(what, NOT_COMPARED, "state--off", words, "")
    changed = [_sign_words(sign) for sign in item.signs if sign.shod != sign.barefoot]
    details = "; ".join(changed) or f"every grade as barefoot ({len(item.signs)} compared)"
    return ChangeLine(
        what, MOVEMENTS[movement], _STATES.get(movement, ""), details, WARNING if movement == WORSE else ""
    )


def _sign_words(sign: SignChange) -> str:
    degrees = ""
    if sign.barefoot_deg is not None and sign.shod_deg is not None:
        degrees = f" ({display.number(sign.barefoot_deg)}° to {display.number(sign.shod_deg)}°)"
    before, after = GRADE_WORDS[sign.barefoot], GRADE_WORDS[sign.shod]
    return f"{SIGN_WORDS[sign.sign]} {sign.foot} from {before} to {after}{degrees}"


def fitting_changes(seen: FittingLooks) -> tuple[ChangeLine, ...]:
    """What each shoe changed, of a fitting that is recorded."""
    return change_lines(changes_of(seen.observed, seen.looks), seen.shoe_name)


def look_lines(seen: FittingLooks) -> tuple[LookLine, ...]:
    return tuple(_look_line(look, seen) for look in seen.looks)


def _look_line(look: Look, seen: FittingLooks) -> LookLine:
    taken = seen.taken[look.condition]
    return LookLine(
        number=taken.number,
        what=_capital(condition_words(look.condition, seen.shoe_name(look.condition.shoe))),
        taken=f"{display.moment(taken.at)}, {taken.by}",
        left=_foot_words(look.left, look.apart[0]),
        right=_foot_words(look.right, look.apart[1]),
    )


def superseded_lines(rows: Iterable[SupersededLook]) -> tuple[str, ...]:
    """What was corrected or taken back, each as a sentence with what was there before."""
    return tuple(_superseded_words(row) for row in rows)


def _superseded_words(row: SupersededLook) -> str:
    who, when = row.superseded_by.display_name, display.day(row.superseded_at)
    taken = f"{display.moment(row.taken_at)}, {row.taken_by.display_name}"
    what, said = _what_was(row.content)
    return f"{what}: corrected by {who} on {when}: {row.reason} Before ({taken}): {said}."


def _what_was(content: Mapping[str, Any]) -> tuple[str, str]:
    if "measure" in content:
        kind = content["measure"]
        said = f"{in_unit(kind, content['mean'])}, two readings {in_unit(kind, content['apart'])} apart"
        return f"{KINDS[kind].label} on a picture, {content['foot']}", said
    condition = Condition(content["gait"], content["worn"], content["shoe"])
    left, right = (_foot_words(FootIntake(**content[side])) for side in ("left", "right"))
    return _capital(condition_words(condition, content["shoe_name"])), f"left {left}; right {right}"


def _foot_words(foot: FootIntake, apart: float | None = None) -> str:
    parts = []
    for sign in MEASURED:
        grade, degrees = getattr(foot, sign), getattr(foot, f"{sign}_deg")
        if grade is not None:
            readings = (
                f", two readings {display.number(apart)}° apart" if apart is not None and sign == ON_PICTURE else ""
            )
            measured = "" if degrees is None else f" ({display.number(degrees)}°{readings})"
            parts.append(f"{SIGN_WORDS[sign]} {GRADE_WORDS[grade]}{measured}")
    return ", ".join(parts) or "not checked"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
