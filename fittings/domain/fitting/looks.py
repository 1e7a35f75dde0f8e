"""Looks at a person in motion: walking or running, barefoot, in their own shoe or in a shoe tried on.

The observation of a fitting is the look at the person walking barefoot, and the need follows from that look alone. The
others show what a shoe changes: a shoe is set against the same gait barefoot. Whether less motion in a shoe is better
for somebody is common practice, no source; published trials disagree.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from fittings.domain.fitting.grading import MEASURED
from fittings.domain.fitting.intake import Condition, FootIntake, Look

GAITS = MappingProxyType({"walking": "walking", "running": "running"})
WORN = MappingProxyType({"barefoot": "barefoot", "own": "own shoe", "candidate": "shoe tried on"})

BETTER, SAME, WORSE = "better", "same", "worse"
MOVEMENTS = MappingProxyType({BETTER: "better than barefoot", SAME: "same as barefoot", WORSE: "worse than barefoot"})
"""What became of the signs in a shoe, and how it is said."""

LOOKS_MAX = 20
"""More looks than this at one fitting are a mistake."""


OBSERVED = Condition("walking", "barefoot")
"""The look that the observation of a fitting is."""


def checked_condition(condition: Condition) -> Condition:
    """Return a condition of a look beside the observation, where there is such a one.

    Parameters
    ----------
    condition : Condition
        As it came in.

    Returns
    -------
    Condition
        The same.

    Raises
    ------
    ValueError
        When gait or footwear is none of those there are, a shoe is named where none was tried on or the other way
        round, or it is the observation itself.

    Examples
    --------
    >>> checked_condition(Condition("running", "barefoot")).gait
    'running'
    """
    if condition.gait not in GAITS:
        raise ValueError(f"gait must be one of {', '.join(GAITS)}, got {condition.gait!r}")
    if condition.worn not in WORN:
        raise ValueError(f"worn must be one of {', '.join(WORN)}, got {condition.worn!r}")
    if condition.worn == "candidate" and not condition.shoe:
        raise ValueError("Name the shoe that was tried on.")
    if condition.worn != "candidate" and condition.shoe:
        raise ValueError("A shoe is named only where it is one that was tried on (worn: candidate).")
    if condition == OBSERVED:
        raise ValueError("Walking barefoot is the observation of the fitting. Enter it there.")
    return condition


def condition_words(condition: Condition, shoe: str = "") -> str:
    """A condition in words, with the shoe's name where it was one tried on.

    Parameters
    ----------
    condition : Condition
        Any.
    shoe : str
        The shoe's name; its slug where left out.

    Returns
    -------
    str
        Such as ``"running in their own shoe"``.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> condition_words(OBSERVED), condition_words(Condition("running", "candidate", "a"), "Brand A")
    ('walking barefoot', 'running in Brand A')
    """
    if condition.worn == "barefoot":
        return f"{condition.gait} barefoot"
    if condition.worn == "own":
        return f"{condition.gait} in their own shoe"
    return f"{condition.gait} in {shoe or condition.shoe or 'a shoe tried on'}"


@dataclass(frozen=True, slots=True)
class SignChange:
    """One sign of one foot: the grade barefoot and in the shoe, and the degrees where both looks have them."""

    foot: str
    sign: str
    barefoot: int
    shod: int
    barefoot_deg: float | None = None
    shod_deg: float | None = None

    @property
    def movement(self) -> str:
        return SAME if self.shod == self.barefoot else WORSE if self.shod > self.barefoot else BETTER


@dataclass(frozen=True, slots=True)
class ShoeChange:
    """What one shoe changed from barefoot in one gait; `movement` is None where no sign was seen in both looks."""

    condition: Condition
    signs: tuple[SignChange, ...]

    @property
    def movement(self) -> str | None:
        return movement_of([item.movement for item in self.signs])


def movement_of(movements: Iterable[str | None]) -> str | None:
    """One word for several changes.

    Parameters
    ----------
    movements : iterable of str or None
        Each one of `MOVEMENTS`, or None where nothing could be compared.

    Returns
    -------
    str or None
        ``"worse"`` where any is worse, else ``"better"`` where any is better, else ``"same"``; None without any.

    Notes
    -----
    A sign that got worse outweighs one that got better, so that a warning is never averaged away. Common practice, no
    source.

    Examples
    --------
    >>> movement_of(["better", "same"]), movement_of(["better", "worse"]), movement_of([None])
    ('better', 'worse', None)
    """
    seen = {item for item in movements if item is not None}
    return next((word for word in (WORSE, BETTER, SAME) if word in seen), None)


def change_in(barefoot: Look, shod: Look) -> ShoeChange:
    """What changed from one look to another, sign by sign and foot by foot.

    Parameters
    ----------
    barefoot, shod : Look
        Graded looks (degrees without a grade are not compared) of the same gait.

    Returns
    -------
    ShoeChange
        Only the signs that both looks have; none is assumed.

    Raises
    ------
    ValueError
        When the gaits differ: a run in a shoe says nothing against a walk barefoot.

    Examples
    --------
    >>> walk = Look(OBSERVED, left=FootIntake(pronation=2))
    >>> change_in(walk, Look(Condition("walking", "own"), left=FootIntake(pronation=1))).movement
    'better'
    """
    if barefoot.condition.gait != shod.condition.gait:
        raise ValueError(f"both looks must be of one gait, got {barefoot.condition.gait} and {shod.condition.gait}")
    signs = [
        SignChange(foot, sign, before, after, *_degrees(one, other, sign))
        for (foot, one), (_, other) in zip(barefoot.feet(), shod.feet(), strict=True)
        for sign in MEASURED
        if (before := getattr(one, sign)) is not None and (after := getattr(other, sign)) is not None
    ]
    return ShoeChange(shod.condition, tuple(signs))


def _degrees(one: FootIntake, other: FootIntake, sign: str) -> tuple[float | None, float | None]:
    before, after = getattr(one, f"{sign}_deg"), getattr(other, f"{sign}_deg")
    return (before, after) if before is not None and after is not None else (None, None)


def changes_of(observed: Look, looks: Sequence[Look]) -> tuple[ShoeChange, ...]:
    """What each shoe changed, in the order of the looks.

    Parameters
    ----------
    observed : Look
        The look walking barefoot, as graded; it may be empty.
    looks : sequence of Look
        The other looks, graded.

    Returns
    -------
    tuple of ShoeChange
        One for each look in a shoe, without signs where the person was not looked at barefoot in that gait.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> run = Look(Condition("running", "own"), left=FootIntake(pronation=1))
    >>> changes_of(Look(OBSERVED, left=FootIntake(pronation=1)), [run])[0].movement is None
    True
    """
    barefoot = {"walking": observed} | {
        look.condition.gait: look for look in looks if look.condition.worn == "barefoot"
    }
    return tuple(
        change_in(barefoot.get(look.condition.gait, Look(Condition(look.condition.gait, "barefoot"))), look)
        for look in looks
        if look.condition.worn != "barefoot"
    )


def movement_by_shoe(changes: Iterable[ShoeChange]) -> Mapping[str, str]:
    """One word for each shoe tried on, over all gaits in which it was looked at.

    Parameters
    ----------
    changes : iterable of ShoeChange
        Of any shoes; those of the own shoe are left out.

    Returns
    -------
    mapping of str to str
        From the slug to one of `MOVEMENTS`; a shoe that could not be compared is not in it.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> change = ShoeChange(Condition("running", "candidate", "a"), (SignChange("left", "pronation", 1, 2),))
    >>> dict(movement_by_shoe([change]))
    {'a': 'worse'}
    """
    seen: dict[str, list[str | None]] = {}
    for item in changes:
        if item.condition.shoe:
            seen.setdefault(item.condition.shoe, []).append(item.movement)
    words = {shoe: movement_of(movements) for shoe, movements in seen.items()}
    return {shoe: word for shoe, word in words.items() if word is not None}
