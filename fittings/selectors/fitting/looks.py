"""The looks at the person of a fitting."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from catalogue.models import Shoe
from core.domain.errors import DomainError
from fittings.domain.fitting.grading import SIGN_COLUMNS
from fittings.domain.fitting.intake import Condition, FootIntake, Look
from fittings.domain.fitting.looks import OBSERVED
from fittings.models import Fitting, FootObservation, LookFoot, PictureAngle, SupersededLook


@dataclass(frozen=True, slots=True)
class Taken:
    """When a look was taken, by whom, and its number, which a correction names."""

    at: dt.datetime
    by: str
    number: int


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
    observed = {foot.foot: signs_of(foot) for foot in fitting.feet.all()} if rows else {}
    feet: dict[Condition, dict[str, FootIntake]] = {}
    apart: dict[Condition, dict[str, float | None]] = {}
    taken: dict[Condition, Taken] = {}
    for row in rows:
        condition = Condition(row.gait, row.worn, row.shoe.slug if row.shoe else "")
        feet.setdefault(condition, {})[row.foot] = signs_of(row)
        apart.setdefault(condition, {})[row.foot] = row.rearfoot_eversion_apart
        taken.setdefault(condition, Taken(row.at, row.by.display_name, row.pk))
    looks = tuple(
        _look(condition, sides, apart=(apart[condition].get("left"), apart[condition].get("right")))
        for condition, sides in feet.items()
    )
    return FittingLooks(_look(OBSERVED, observed), looks, {row.shoe.slug: row.shoe for row in rows if row.shoe}, taken)


def observed_look(fitting: Fitting) -> Look:
    """The look walking barefoot, which is the observation of the fitting."""
    return _look(OBSERVED, {foot.foot: signs_of(foot) for foot in fitting.feet.all()})


def _look(
    condition: Condition, feet: Mapping[str, FootIntake], *, apart: tuple[float | None, float | None] = (None, None)
) -> Look:
    return Look(condition, feet.get("left", FootIntake()), feet.get("right", FootIntake()), apart)


def superseded_looks(fitting: Fitting) -> list[SupersededLook]:
    """What was corrected or taken back of looks and measures, oldest first: one query, or none where there is none."""
    if not getattr(fitting, "has_corrected_looks", True):
        return []
    return list(fitting.superseded_looks.select_related("taken_by", "superseded_by"))


def picture_angles_of(fitting: Fitting) -> list[PictureAngle]:
    """What was measured on pictures at a fitting: one query, or none where `fitting_get` saw that there is nothing."""
    return list(fitting.picture_angles.all()) if getattr(fitting, "has_angles", True) else []


OBSERVATION = 0
"""The number that a correction names the observation by; looks have numbers from 1."""


def look_numbered(fitting: Fitting, number: int) -> tuple[Look, str]:
    """The look with a number, or the observation, and the name of the shoe tried on; refused where there is none."""
    if number == OBSERVATION:
        return observed_look(fitting), ""
    seen = looks_at(fitting)
    look = next((item for item in seen.looks if seen.taken[item.condition].number == number), None)
    if look is None:
        raise look_gone(fitting, number)
    return look, seen.shoe_name(look.condition.shoe)


def picture_angle_get(fitting: Fitting, number: int) -> PictureAngle:
    """One measure on a picture of a fitting; refused where there is none."""
    angle = PictureAngle.objects.select_related("by").filter(fitting=fitting, pk=number).first()
    if angle is None:
        raise look_gone(fitting, number, is_angle=True)
    return angle


def look_gone(fitting: Fitting, number: int, *, is_angle: bool = False) -> DomainError:
    """Why there is no look or measure of this number: it was corrected (409), or never was (404)."""
    earlier = SupersededLook.objects.filter(fitting=fitting, number=number)
    if any(("measure" in content) == is_angle for content in earlier.values_list("content", flat=True)):
        message = "This was already corrected or taken back. Open the fitting again to see the current record."
        return DomainError(message, code="already_corrected", status=409)
    return DomainError("This look is not on record at this fitting.", code="not_found", status=404)


def signs_of(row: FootObservation | LookFoot) -> FootIntake:
    return FootIntake(**{name: getattr(row, name) for name in SIGN_COLUMNS})
