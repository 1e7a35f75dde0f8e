"""Grades 0 to 3 from degrees, by cut-offs that are data with a name.

Where a grade begins is common practice, no source: people measure these angles in different ways and with different
marks, so a practice that measures keeps cut-offs of its own, and what was measured is kept beside the grade.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace

from core.domain.figures import figure
from fittings.domain.bounds import LIMITS, number_within
from fittings.domain.fitting.intake import FootIntake
from fittings.domain.fitting.need import GRADE_WORDS

Three = tuple[float, float, float]
MEASURED: tuple[str, ...] = ("pronation", "tibial_rotation", "rearfoot_eversion")
"""The observations that may be entered in degrees."""
SIGN_COLUMNS: tuple[str, ...] = (*MEASURED, *(f"{name}_deg" for name in MEASURED))
"""What every look has of a foot: the grades, and the degrees they were made of."""


@dataclass(frozen=True, slots=True)
class GradeCutoffs:
    """Degrees at which the grades 1, 2 and 3 begin, for each observation."""

    name: str
    pronation: Three
    tibial_rotation: Three
    rearfoot_eversion: Three


G1 = GradeCutoffs(
    name="G1",
    pronation=(6.0, 10.0, 14.0),
    tibial_rotation=(6.0, 10.0, 14.0),
    rearfoot_eversion=(3.0, 6.0, 9.0),
)
"""The first cut-offs, `G1`; common practice, no source.

Pronation: the most that the heel bone rolls inward against the shank while the foot bears weight. Tibial rotation: how
far the shank turns inward meanwhile. Rearfoot eversion: the heel's line against the upright, standing.
"""


def grade_of(observation: str, degrees: float, cutoffs: GradeCutoffs = G1) -> int:
    """Grade that an angle belongs to.

    Parameters
    ----------
    observation : str
        One of `MEASURED`.
    degrees : float
        The angle, −30 to 45 degrees; inward is positive.
    cutoffs : GradeCutoffs
        Where the grades begin; a grade begins at its cut-off.

    Returns
    -------
    int
        0 to 3; an angle outward (negative) is grade 0.

    Raises
    ------
    TypeError, ValueError
        When the angle is no number in the range, or the observation is not one of the three.

    Examples
    --------
    >>> grade_of("pronation", 10.0), grade_of("rearfoot_eversion", 2.9)
    (2, 0)
    """
    if observation not in MEASURED:
        raise ValueError(f"observation must be one of {', '.join(MEASURED)}, got {observation!r}")
    angle = number_within(f"{observation}_deg", degrees, *LIMITS["degrees"])
    begins: Three = getattr(cutoffs, observation)
    return bisect_right(begins, angle)


@dataclass(frozen=True, slots=True)
class GradedFoot:
    """A foot with its grades; `problems` says by field where a grade given beside the degrees contradicts them."""

    foot: FootIntake
    problems: dict[str, str]


def is_measured(foot: FootIntake) -> bool:
    """Whether anything of a foot was entered in degrees."""
    return any(getattr(foot, f"{name}_deg") is not None for name in MEASURED)


def graded_foot(foot: FootIntake, cutoffs: GradeCutoffs) -> GradedFoot:
    """Grade everything of a foot that was entered in degrees.

    Parameters
    ----------
    foot : FootIntake
        Angles in degrees, −30 to 45; None where not measured.
    cutoffs : GradeCutoffs
        Where the grades begin.

    Returns
    -------
    GradedFoot
        A grade that contradicts its angle stays as it was given, with a problem named ``<observation>_deg``.

    Raises
    ------
    TypeError, ValueError
        When an angle is no number in the range.

    Examples
    --------
    >>> graded_foot(FootIntake(pronation_deg=10.0), G1).foot.pronation
    2
    """
    grades: dict[str, int] = {}
    problems: dict[str, str] = {}
    for name in MEASURED:
        degrees, given = getattr(foot, f"{name}_deg"), getattr(foot, name)
        if degrees is None:
            continue
        grade = grade_of(name, degrees, cutoffs)
        if given is not None and given != grade:
            problems[f"{name}_deg"] = (
                f"{figure(degrees)}° is grade {grade} ({GRADE_WORDS[grade]}) by the cut-offs {cutoffs.name}, and "
                "another grade was picked. Clear one of the two."
            )
            continue
        grades[name] = grade
    return GradedFoot(replace(foot, **grades), problems)


def cutoffs_to_data(cutoffs: GradeCutoffs) -> dict[str, object]:
    """Cut-offs as plain data, fit for JSON.

    Parameters
    ----------
    cutoffs : GradeCutoffs
        Any.

    Returns
    -------
    dict
        One entry a field.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> cutoffs_to_data(G1)["rearfoot_eversion"]
    (3.0, 6.0, 9.0)
    """
    return asdict(cutoffs)


def cutoffs_from_data(data: Mapping[str, object]) -> GradeCutoffs:
    """Cut-offs that were kept as plain data.

    Parameters
    ----------
    data : mapping
        What `cutoffs_to_data` gave, after a trip through JSON or not.

    Returns
    -------
    GradeCutoffs
        Checked cut-offs.

    Raises
    ------
    TypeError, ValueError
        When an entry is missing, unknown, of the wrong kind, out of range or out of order; the message names it.

    Examples
    --------
    >>> cutoffs_from_data(cutoffs_to_data(G1)) == G1
    True
    """
    names = {field.name for field in fields(GradeCutoffs)}
    if set(data) != names:
        odd = ", ".join(sorted(set(data) ^ names))
        raise ValueError(f"cut-offs must have exactly the entries {', '.join(sorted(names))}; differs in {odd}")
    name = data["name"]
    if not isinstance(name, str) or not name.strip():
        raise ValueError(f"name must be a text, got {name!r}")
    return GradeCutoffs(name, *(_three(key, data[key]) for key in MEASURED))


def _three(name: str, value: object) -> Three:
    if not isinstance(value, (list, tuple)) or len(value) != 3:
        raise ValueError(f"{name} must be the 3 angles at which the grades 1, 2 and 3 begin, got {value!r}")
    one, two, three = (number_within(f"{name} cut-off", item, *LIMITS["degrees"]) for item in value)
    if not one < two < three:
        raise ValueError(f"{name} cut-offs must rise, got {value!r}")
    return one, two, three
