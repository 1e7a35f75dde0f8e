"""The looks at the person of a fitting."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from catalogue.models import Shoe
from fittings.domain.fitting.grading import MEASURED
from fittings.domain.fitting.intake import Condition, FootIntake, Look
from fittings.domain.fitting.looks import OBSERVED
from fittings.models import Fitting, FootObservation, LookFoot, PictureAngle

_SIGNS = (*MEASURED, *(f"{name}_deg" for name in MEASURED))


@dataclass(frozen=True, slots=True)
class Taken:
    """When a look was taken, and by whom."""

    at: dt.datetime
    by: str


@dataclass(frozen=True, slots=True)
class FittingLooks:
    """The observation as a look, the other looks in the order in which they were taken, and the shoes they name."""

    observed: Look
    looks: tuple[Look, ...]
    shoes: Mapping[str, Shoe]
    taken: Mapping[Condition, Taken]

    def shoe_name(self, slug: str) -> str:
        shoe = self.shoes.get(slug)
        return f"{shoe.brand.name} {shoe.title}" if shoe else ""


def looks_at(fitting: Fitting) -> FittingLooks:
    """Everything that was seen of a person in motion at a fitting: two queries, or one where it is the observation."""
    if not getattr(fitting, "has_looks", True):
        return FittingLooks(Look(OBSERVED), (), {}, {})
    rows = list(fitting.look_feet.select_related("shoe__brand", "by"))
    observed = {foot.foot: _signs(foot) for foot in fitting.feet.all()} if rows else {}
    feet: dict[Condition, dict[str, FootIntake]] = {}
    taken: dict[Condition, Taken] = {}
    for row in rows:
        condition = Condition(row.gait, row.worn, row.shoe.slug if row.shoe else "")
        feet.setdefault(condition, {})[row.foot] = _signs(row)
        taken[condition] = Taken(row.at, row.by.display_name)
    looks = tuple(Look(condition, **sides) for condition, sides in feet.items())
    return FittingLooks(Look(OBSERVED, **observed), looks, {row.shoe.slug: row.shoe for row in rows if row.shoe}, taken)


def picture_angles_of(fitting: Fitting) -> list[PictureAngle]:
    """What was measured on pictures at a fitting: one query, or none where `fitting_get` saw that there is nothing."""
    return list(fitting.picture_angles.all()) if getattr(fitting, "has_angles", True) else []


def _signs(row: FootObservation | LookFoot) -> FootIntake:
    return FootIntake(**{name: getattr(row, name) for name in _SIGNS})
