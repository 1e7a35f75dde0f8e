"""What published trials found of choosing shoes by foot type or by how firm they are. As numbers, so that the page on
the method says what they printed, and tests can hold each line against itself.

Effects are ratios of injury rates or hazards, the chosen or firmer shoe against the other; below 1 is fewer injuries.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Line:
    """One result: who asked what of how many people, the ratio with its 95 % confidence interval, and what it says.

    `ratio`, `low` and `high` are None where no trial could be counted; `said` is our own wording.
    """

    source: str
    year: int
    people: str
    contrast: str
    ratio: float | None
    low: float | None
    high: float | None
    said: str

    @property
    def is_conclusive(self) -> bool:
        """Say whether the interval leaves out "no difference"."""
        return self.low is not None and self.high is not None and not self.low <= 1.0 <= self.high


EVIDENCE = (
    Line(
        "Richards and others, Br J Sports Med 43:159", 2009, "a review",
        "shoe prescribed by foot type", None, None, None, "No trial was found that had tested it.",
    ),
    Line(
        "Knapik and others, J Orthop Sports Phys Ther 44:805", 2014, "men of three trials with recruits",
        "shoe by the shape of the footprint, against one kind for all", 0.97, 0.88, 1.06, "No difference was shown.",
    ),
    Line(
        "Knapik and others, J Orthop Sports Phys Ther 44:805", 2014, "women of the same trials",
        "shoe by the shape of the footprint, against one kind for all", 0.97, 0.85, 1.08, "No difference was shown.",
    ),
    Line(
        "Malisoux and others, Br J Sports Med 50:481", 2016, "372 runners, six months",
        "shoe built to hold the foot, against a plain one", 0.55, 0.36, 0.85, "Fewer injuries in the shoe that holds.",
    ),
    Line(
        "Malisoux and others, Br J Sports Med 50:481", 2016, "94 of them with pronated feet",
        "the same", 0.34, 0.13, 0.84, "Fewer injuries; that such feet gain more than others was not shown.",
    ),
    Line(
        "Malisoux and others, Br J Sports Med 50:481", 2016, "218 of them with neutral feet",
        "the same", 0.78, 0.44, 1.37, "No difference was shown.",
    ),
    Line(
        "Malisoux and others, Br J Sports Med 50:481", 2016, "60 of them with supinated feet",
        "the same", 0.59, 0.20, 1.73, "No difference was shown.",
    ),
    Line(
        "Willems and others, J Orthop Sports Phys Ther 51:135", 2021, "the same trial, 25 pronation-related injuries",
        "the same", 0.41, 0.17, 0.98, "Fewer of these injuries; the interval nearly includes no difference.",
    ),
    Line(
        "Malisoux and others, Am J Sports Med 48:473", 2020, "848 runners, six months",
        "hard midsole, against a soft one", 1.52, 1.07, 2.16, "More injuries in the hard shoe.",
    ),
    Line(
        "Theisen and others, Br J Sports Med", 2014, "247 runners, five months",
        "soft midsole, against a hard one", 0.92, 0.57, 1.48, "No difference was shown.",
    ),
)  # fmt: skip

OTHERS = (
    "One trial of 81 women (Ryan and others, Br J Sports Med 45:715, 2011) found more pain in shoes built to control "
    "the foot most, in neutral and in pronated feet.",
    "One year of 927 novices in plain shoes (Nielsen and others, Br J Sports Med 48:440, 2014) did not find pronated "
    "feet hurt more often.",
)
