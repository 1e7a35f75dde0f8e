"""Drawn cases: where the lines of each drawing are, and how a set was answered, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from core.web import display
from fittings.domain.fitting.grading_cases import Case, CaseScore, case_score
from fittings.domain.fitting.need import GRADE_WORDS
from fittings.models import CaseResult
from fittings.selectors.fitting.cases import CaseSet

Spot = tuple[float, float]
ANKLE: Spot = (100.0, 130.0)
LEG_LEAN = 4.0
"""Degrees by which a drawn leg leans inward, as legs do; the angle asked for does not depend on it."""

_QUESTIONS = {
    "pronation": "Pronation: the heel against the leg at the lowest point of a step, from behind",
    "tibial_rotation": "Tibial rotation: how far the shin turned inward since the heel touched down, from above",
    "rearfoot_eversion": "Rearfoot eversion: the heel against the upright, standing, from behind",
}


@dataclass(frozen=True, slots=True)
class CaseDrawing:
    """One case for the page: the question, its shapes as paths, and the lines on them (x1, y1, x2, y2)."""

    question: str
    foot: str
    leg: str
    body: str
    lines: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True, slots=True)
class AnsweredCase:
    """One case of a result: the drawing, and what was right and what was answered."""

    drawing: CaseDrawing
    degrees: str
    right: str
    answer: str
    is_right: bool


def case_drawing(case: Case) -> CaseDrawing:
    # Inward is to the left in the drawing of a right foot, and to the right in that of a left one.
    inward = -1.0 if case.foot == "right" else 1.0
    shapes = _from_above(case, inward) if case.sign == "tibial_rotation" else _from_behind(case, inward)
    return CaseDrawing(_QUESTIONS[case.sign], case.foot, *shapes)


def _from_behind(case: Case, inward: float) -> tuple[str, str, tuple[tuple[str, str, str, str], ...]]:
    """Leg and heel; the foot of an everted heel points outward. Standing, the upright is drawn, and no leg's line."""
    lean = -inward * LEG_LEAN
    against = 0.0 if case.sign == "rearfoot_eversion" else lean
    heel = against + inward * case.degrees
    leg = _shape([(-24, -115), (24, -115), (17, -20), (-17, -20)], lean)
    body = _shape([(-22, -5), (22, -5), (30, 55), (22, 82), (-22, 82), (-30, 55)], heel)
    marks = [((0.0, -115.0), (0.0, -10.0), against), ((0.0, 0.0), (0.0, 82.0), heel)]
    return leg, body, tuple(_line(start, end, turn) for start, end, turn in marks)


def _from_above(case: Case, inward: float) -> tuple[str, str, tuple[tuple[str, str, str, str], ...]]:
    """The foot points up the page; the front of the shin points where it has turned to."""
    body = _shape([(-24, 70), (24, 70), (26, 20), (38, -60), (20, -112), (-20, -112), (-38, -60), (-26, 20)], 0.0)
    leg = _shape([(-20, 18), (20, 18), (22, -4), (0, -34), (-22, -4)], inward * case.degrees)
    marks = [((0.0, 60.0), (0.0, -100.0), 0.0), ((0.0, 0.0), (0.0, -95.0), inward * case.degrees)]
    return leg, body, tuple(_line(start, end, turn) for start, end, turn in marks)


def _turned(spot: Spot, degrees: float) -> Spot:
    """A spot turned clockwise on the page about the ankle."""
    x, y = spot
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return ANKLE[0] + cos * x - sin * y, ANKLE[1] + sin * x + cos * y


def _shape(spots: Sequence[Spot], degrees: float) -> str:
    places = " L".join(f"{x:.2f} {y:.2f}" for x, y in (_turned(spot, degrees) for spot in spots))
    return f"M{places}Z"


def _line(start: Spot, end: Spot, degrees: float) -> tuple[str, str, str, str]:
    (x1, y1), (x2, y2) = _turned(start, degrees), _turned(end, degrees)
    return f"{x1:.2f}", f"{y1:.2f}", f"{x2:.2f}", f"{y2:.2f}"


def answered_cases(drawn: CaseSet, result: CaseResult) -> tuple[tuple[AnsweredCase, ...], CaseScore]:
    score = case_score(drawn.cases, result.answers, drawn.cutoffs)
    rows = tuple(
        AnsweredCase(
            drawing=case_drawing(case),
            degrees=f"{display.number(case.degrees)}°",
            right=f"{right} {GRADE_WORDS[right]}",
            answer=f"{answer} {GRADE_WORDS[answer]}",
            is_right=right == answer,
        )
        for case, right, answer in zip(drawn.cases, score.standard, result.answers, strict=True)
    )
    return rows, score


def score_words(score: CaseScore) -> str:
    """A score in one sentence or two."""
    far = score.cases - score.right - score.near
    words = f"{score.right} of {score.cases} match the standard, {score.near} one grade off, {far} further off."
    kappa = score.kappa
    if kappa.kappa is None or kappa.low is None or kappa.high is None:
        return words
    limits = f"{display.number(kappa.low, 2)} to {display.number(kappa.high, 2)}"
    return (
        f"{words} Agreement with the standard beyond chance (weighted kappa): {display.number(kappa.kappa, 2)} "
        f"({limits}); 1 is full agreement, 0 is chance."
    )
