"""How many specimens and repeats a wanted uncertainty takes, from what is known of a rig and of the catalogue."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from core.domain.coverage import coverage_factor, limited

SPECIMENS = tuple(range(1, 13))
REPEATS = (1, 2, 3, 5, 10)


@dataclass(frozen=True, slots=True)
class KnownScatter:
    """Variances of one score, points², with their degrees of freedom (inf where unlimited).

    Of single repeats, of a day and set-up, and between specimens with its part of Welch and Satterthwaite's sum
    (`component.below`); `common` is the standard uncertainty that calibrations leave, points.
    """

    repeats2: float
    repeats_df: float
    setup2: float
    setup_df: float
    specimens2: float
    specimens_below: float
    common: float

    @property
    def repeats_sd(self) -> float:
        return math.sqrt(self.repeats2)

    @property
    def setup_sd(self) -> float:
        return math.sqrt(self.setup2)

    @property
    def specimens_sd(self) -> float:
        return math.sqrt(self.specimens2)


@dataclass(frozen=True, slots=True)
class PlannedU:
    """What so many specimens of so many repeats each would give; `df` is None where unlimited."""

    specimens: int
    repeats: int
    u: float
    k: float
    df: float | None
    expanded: float


@dataclass(frozen=True, slots=True)
class Plan:
    """Every choice, and the least that reaches the wanted U: fewest specimens, then repeats; None where none does.

    `floor` is the U that calibrations and the day alone leave, however much is tested.
    """

    choices: tuple[PlannedU, ...]
    least: PlannedU | None
    floor: float


def planned_u(known: KnownScatter, *, specimens: int, repeats: int, days: int = 1) -> PlannedU:
    """Uncertainty of a shoe's score that a plan can be expected to give.

    Parameters
    ----------
    known : KnownScatter
        Of the score on the rig.
    specimens, repeats : int
        ≥ 1; one test of so many repeats each.
    days : int
        ≥ 1, over how many days the tests are spread; at most one a specimen counts.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.2, 5.1 and G.4.1 equation G.2b.

    Examples
    --------
    >>> known = KnownScatter(0.09, 60.0, 0.0, math.inf, 0.25, 0.0625 / 40, 0.2)
    >>> found = planned_u(known, specimens=2, repeats=3)
    >>> round(found.u, 3), round(found.k, 2)
    (0.424, 2.03)
    """
    for name, value in (("specimens", specimens), ("repeats", repeats), ("days", days)):
        if value < 1:
            raise ValueError(f"{name} must be ≥ 1, got {value}")
    within2 = known.repeats2 / repeats / specimens
    setup2 = known.setup2 / min(days, specimens)
    u2 = within2 + setup2 + known.specimens2 / specimens + known.common**2
    below = within2**2 / known.repeats_df + setup2**2 / known.setup_df + known.specimens_below / specimens**2
    df = limited(u2**2 / below) if below > 0.0 else None
    u, k = math.sqrt(u2), coverage_factor(df)
    return PlannedU(specimens, repeats, u, k, df, k * u)


def plan(
    known: KnownScatter,
    wanted: float,
    *,
    days: int = 1,
    specimens: Sequence[int] = SPECIMENS,
    repeats: Sequence[int] = REPEATS,
) -> Plan:
    """List what each number of specimens and repeats gives, and find the least that reaches a wanted U.

    Parameters
    ----------
    wanted : float
        U of the score, points, > 0.

    Examples
    --------
    >>> known = KnownScatter(0.09, 60.0, 0.0, math.inf, 0.25, 0.0625 / 40, 0.2)
    >>> least = plan(known, 1.0).least
    >>> least.specimens, least.repeats
    (2, 1)
    """
    if not wanted > 0.0:
        raise ValueError(f"wanted must be > 0, got {wanted}")
    choices = tuple(
        planned_u(known, specimens=count, repeats=each, days=days) for count in specimens for each in repeats
    )
    reaching = [choice for choice in choices if choice.expanded <= wanted]
    least = min(reaching, key=lambda choice: (choice.specimens, choice.repeats), default=None)
    floor = 2.0 * math.sqrt(known.common**2 + known.setup2 / max(1, days))
    return Plan(choices, least, floor)
