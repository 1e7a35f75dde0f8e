"""What comes in at a fitting and at a follow-up, as plain data: forms, API and demo data all hand over these."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from fittings.domain.fitting.angles import Marks
from fittings.domain.people.recurrence import Pain
from fittings.domain.regions import Complaint


@dataclass(frozen=True, slots=True)
class CustomerIntake:
    """Who it is. Without consent nothing else of this is kept. `guardian` agrees for somebody under age."""

    name: str = ""
    email: str = ""
    consent: bool = False
    phone: str = ""
    under_age: bool = False
    guardian: str = ""


@dataclass(frozen=True, slots=True)
class FootIntake:
    """What we observed and measured of one foot; None where it was not looked at. Degrees make the grade."""

    pronation: int | None = None
    tibial_rotation: int | None = None
    rearfoot_eversion: int | None = None
    fpi6: int | None = None
    navicular_drop_mm: float | None = None
    length_mm: float | None = None
    width_mm: float | None = None
    pronation_deg: float | None = None
    tibial_rotation_deg: float | None = None
    rearfoot_eversion_deg: float | None = None


FOOT_LIMITS: Mapping[str, str] = MappingProxyType(
    {
        "pronation": "grade",
        "tibial_rotation": "grade",
        "rearfoot_eversion": "grade",
        "pronation_deg": "degrees",
        "tibial_rotation_deg": "degrees",
        "rearfoot_eversion_deg": "degrees",
        "fpi6": "fpi6",
        "navicular_drop_mm": "navicular_drop_mm",
        "length_mm": "length_mm",
        "width_mm": "width_mm",
    }
)
"""Every value of a foot, with the name of its limits in `fittings.domain.bounds`."""


@dataclass(frozen=True, slots=True)
class Condition:
    """How somebody moved and what they wore; `shoe` is the slug of a shoe tried on, else empty."""

    gait: str
    worn: str
    shoe: str = ""

    @property
    def is_observation(self) -> bool:
        """Whether this is the look that the need follows from."""
        return (self.gait, self.worn) == ("walking", "barefoot")


@dataclass(frozen=True, slots=True)
class Look:
    """One look at somebody in motion: pronation, tibial rotation and rearfoot eversion of both feet.

    `apart` has the left and the right foot: how far two readings on a picture differ (degrees), None where the rearfoot
    was not measured on one.
    """

    condition: Condition
    left: FootIntake = field(default_factory=FootIntake)
    right: FootIntake = field(default_factory=FootIntake)
    apart: tuple[float | None, float | None] = (None, None)

    def feet(self) -> tuple[tuple[str, FootIntake], ...]:
        return ("left", self.left), ("right", self.right)


@dataclass(frozen=True, slots=True)
class FootMarks:
    """What somebody marked on a picture of one foot, from which a measure follows."""

    foot: str
    marks: Marks


@dataclass(frozen=True, slots=True)
class FittingIntake:
    """Everything a fitting begins with.

    `current_shoe` is a slug, `current_shoe_text` what is worn where the catalogue has no such shoe, `size_system`
    one of `sizing.SIZE_SYSTEMS` and `insole` one of `insoles.INSOLES`. `submission` makes sending it twice count once.

    `left` and `right` are the look at the person walking barefoot, which the need follows from; `looks` are all others.
    """

    use: str
    customer: CustomerIntake = field(default_factory=CustomerIntake)
    body_mass_kg: float | None = None
    distance_km_week: float | None = None
    history: tuple[Complaint, ...] = ()
    pain_now: int | None = None
    stop_signs: tuple[str, ...] = ()
    stop_signs_asked: bool = False
    left: FootIntake = field(default_factory=FootIntake)
    right: FootIntake = field(default_factory=FootIntake)
    hip_weak: bool | None = None
    current_shoe: str | None = None
    cushioning: str = ""
    current_shoe_text: str = ""
    insole: str = ""
    size_system: str = ""
    submission: uuid.UUID | None = None
    pain_weeks: int | None = None
    clinician_advised: bool | None = None
    looks: tuple[Look, ...] = ()
    marks: tuple[FootMarks, ...] = ()


@dataclass(frozen=True, slots=True)
class FollowUpAnswer:
    """The answers of one follow-up; None where not answered.

    `pain` names places with scores, `nothing_hurts` says that there are none; with neither, pain was not answered.
    `overuse` holds four of 0, 8, 17, 25.
    """

    wearing: bool | None = None
    distance_km_week: float | None = None
    comfort: int | None = None
    pain: tuple[Pain, ...] = ()
    nothing_hurts: bool | None = None
    overuse: tuple[int, ...] | None = None
    days_off: int | None = None
    comment: str = ""
    saw_clinician: bool | None = None
