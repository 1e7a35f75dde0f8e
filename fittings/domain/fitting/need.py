"""What a person needs of a shoe: a target interval on the stability scale, with every contribution listed.

The rules are data with a version. They are common practice, no source: published trials of matching shoes to foot type
disagree, so a need is where trying on begins and no diagnosis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

from fittings.domain.bounds import LIMITS, number_within, whole_within
from fittings.domain.regions import Complaint, place_words

GRADE_WORDS: tuple[str, ...] = ("none", "slight", "moderate", "marked")
"""Words of the grades 0 to 3."""

USES: dict[str, str] = {"running": "running", "walking": "walking", "standing": "standing work"}

Four = tuple[float, float, float, float]
Step = tuple[float, float]


@dataclass(frozen=True, slots=True)
class NeedRules:
    """Rules of the need, a version of them. Steps are (threshold, points), the highest threshold first."""

    version: str
    base: float
    pronation: Four
    tibial_rotation: Four
    rearfoot_eversion: Four
    fpi6_at_least: tuple[Step, ...]
    running_mass_above_kg: tuple[Step, ...]
    weak_hip: float
    past_pain: float
    pain_now_centre_min: float
    half_width: float
    half_width_per_left_out: float
    regions: tuple[str, ...]


N1 = NeedRules(
    version="N1",
    base=45.0,
    pronation=(0.0, 5.0, 12.0, 20.0),
    tibial_rotation=(0.0, 3.0, 6.0, 9.0),
    rearfoot_eversion=(0.0, 3.0, 6.0, 9.0),
    fpi6_at_least=((10.0, 4.0), (6.0, 2.0)),
    running_mass_above_kg=((95.0, 8.0), (82.0, 4.0)),
    weak_hip=3.0,
    past_pain=5.0,
    pain_now_centre_min=70.0,
    half_width=6.0,
    half_width_per_left_out=2.0,
    regions=("heel", "inner_shin", "front_of_knee"),
)
"""The first rules, `N1`."""


@dataclass(frozen=True, slots=True)
class ObservedFoot:
    """What we observed of one foot; None where it was not looked at. Grades 0 to 3, Foot Posture Index −12 to 12."""

    pronation: int | None = None
    tibial_rotation: int | None = None
    rearfoot_eversion: int | None = None
    fpi6: int | None = None


OBSERVED_COLUMNS = tuple(field.name for field in fields(ObservedFoot))


@dataclass(frozen=True, slots=True)
class Person:
    """What the need depends on; None where not known."""

    use: str
    body_mass_kg: float | None = None
    left: ObservedFoot = ObservedFoot()
    right: ObservedFoot = ObservedFoot()
    hip_weak: bool | None = None
    history: tuple[Complaint, ...] = ()


@dataclass(frozen=True, slots=True)
class Contribution:
    """One thing that moved the centre, in words, and by how many points of stability."""

    what: str
    points: float


@dataclass(frozen=True, slots=True)
class Need:
    """Target interval [low, high] of stability; the contributions add up to the centre."""

    rules: str
    centre: float
    low: float
    high: float
    contributions: tuple[Contribution, ...]
    left_out: tuple[str, ...]

    def contains(self, stability: float) -> bool:
        """Whether a stability score is in the target, both limits included."""
        return in_target(stability, self.low, self.high)


def in_target(stability: float, low: float, high: float) -> bool:
    """Whether a stability score is in a target.

    Parameters
    ----------
    stability : float
        Score, points.
    low, high : float
        Limits of the target, points, both included.

    Returns
    -------
    bool
        True on a limit too.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> in_target(71.0, 65.0, 71.0)
    True
    """
    return low <= stability <= high


def assess(person: Person, rules: NeedRules = N1) -> Need:
    """Need of a person under a version of the rules.

    Parameters
    ----------
    person : Person
        Use, body mass (kg), both feet, hip and history. What is None stays missing: it adds nothing.
    rules : NeedRules
        The rules; `N1` by default.

    Returns
    -------
    Need
        Centre, low and high on the stability scale (points), the contributions, and the observations left out.

    Raises
    ------
    TypeError, ValueError
        When a value is of the wrong kind or out of its range; the message names it.

    Notes
    -----
    For each observation the worse foot leads; where both are alike, both are named. Each of the three gait
    observations that was made on neither foot widens the interval. Past pain counts once, however many regions; pain
    now in one of the regions lifts the centre to at least the rules' minimum, and the lift is listed as a
    contribution. Centre = 45 and half-width 6 in the rules `N1`; common practice, no source.

    Examples
    --------
    >>> need = assess(Person("running", 85, left=ObservedFoot(2, 1, 1), right=ObservedFoot(1, 1, 0)))
    >>> need.centre, need.low, need.high
    (67.0, 61.0, 73.0)
    """
    _check(person)
    gait, left_out = _gait_contributions(person, rules)
    items = [Contribution("Starting point", rules.base), *gait]
    items += _posture(person, rules) + _mass(person, rules) + _hip(person, rules) + _past_pain(person, rules)
    items += _lift(person, rules, sum(item.points for item in items))
    centre = sum(item.points for item in items)
    half = rules.half_width + rules.half_width_per_left_out * len(left_out)
    return Need(rules.version, centre, centre - half, centre + half, tuple(items), left_out)


def _check(person: Person) -> None:
    if person.use not in USES:
        raise ValueError(f"use must be one of {', '.join(USES)}, got {person.use!r}")
    if person.body_mass_kg is not None:
        number_within("body_mass_kg", person.body_mass_kg, *LIMITS["body_mass_kg"])
    for side, foot in (("left", person.left), ("right", person.right)):
        for name in ("pronation", "tibial_rotation", "rearfoot_eversion"):
            if getattr(foot, name) is not None:
                whole_within(f"{side} {name}", getattr(foot, name), 0, 3)
        if foot.fpi6 is not None:
            whole_within(f"{side} fpi6", foot.fpi6, -12, 12)


def _worse(left: int | None, right: int | None) -> tuple[int | None, str]:
    """The higher of two values and the side it comes from."""
    if left is None or right is None:
        return (right, "right") if left is None else (left, "left")
    if left == right:
        return left, "both feet"
    return (left, "left") if left > right else (right, "right")


def _gait_contributions(person: Person, rules: NeedRules) -> tuple[list[Contribution], tuple[str, ...]]:
    contributions: list[Contribution] = []
    left_out: list[str] = []
    for words, name, points in (
        ("Pronation", "pronation", rules.pronation),
        ("Tibial rotation", "tibial_rotation", rules.tibial_rotation),
        ("Rearfoot eversion", "rearfoot_eversion", rules.rearfoot_eversion),
    ):
        grade, side = _worse(getattr(person.left, name), getattr(person.right, name))
        if grade is None:
            left_out.append(words)
        else:
            contributions.append(Contribution(f"{words}: {GRADE_WORDS[grade]} ({side})", points[grade]))
    return contributions, tuple(left_out)


def _posture(person: Person, rules: NeedRules) -> list[Contribution]:
    index, side = _worse(person.left.fpi6, person.right.fpi6)
    if index is None:
        return []
    points = next((points for at_least, points in rules.fpi6_at_least if index >= at_least), 0.0)
    return [Contribution(f"Foot Posture Index {index:+d} ({side})", points)]


def _mass(person: Person, rules: NeedRules) -> list[Contribution]:
    mass_kg = person.body_mass_kg
    if mass_kg is None:
        return []
    words = f"Body mass {mass_kg:g} kg, {USES[person.use]}"
    if person.use != "running":
        return [Contribution(words, 0.0)]
    points = next((points for above, points in rules.running_mass_above_kg if mass_kg > above), 0.0)
    return [Contribution(words, points)]


def _hip(person: Person, rules: NeedRules) -> list[Contribution]:
    return [Contribution("Weak hip in the single-leg squat", rules.weak_hip)] if person.hip_weak else []


def _past_pain(person: Person, rules: NeedRules) -> list[Contribution]:
    past = [item for item in person.history if item.region in rules.regions and not item.now]
    return [Contribution(f"Past pain: {_places(past)}", rules.past_pain)] if past else []


def _lift(person: Person, rules: NeedRules, centre: float) -> list[Contribution]:
    present = [item for item in person.history if item.region in rules.regions and item.now]
    if not present:
        return []
    lift = max(rules.pain_now_centre_min - centre, 0.0)
    return [Contribution(f"Pain now: {_places(present)}; centre at least {rules.pain_now_centre_min:g}", lift)]


def _places(items: Sequence[Complaint]) -> str:
    return "; ".join(dict.fromkeys(place_words(item.region, item.side) for item in items))
