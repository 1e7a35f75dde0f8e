"""Four-item overuse score after the 2020 form of the questionnaire by Clarsen and others; the wording is ours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

ANSWERS: tuple[int, ...] = (0, 8, 17, 25)
"""Points of the four answers, the same for each question."""

QUESTIONS: tuple[tuple[str, tuple[str, str, str, str]], ...] = (
    (
        "Could you take part in your usual walking, running or work this past week?",
        (
            "Yes, without trouble",
            "Yes, with some trouble",
            "Only in part, because of trouble",
            "No, because of trouble",
        ),
    ),
    (
        "How much less did you do than you meant to, because of trouble?",
        ("No less", "A little less", "Clearly less", "I could not do it at all"),
    ),
    (
        "How much worse than usual did it go because of the trouble?",
        ("Not at all", "A little", "Clearly", "I could not do it at all"),
    ),
    ("How much did it hurt while you did it?", ("Not at all", "A little", "Clearly", "A lot")),
)
"""Our own wording of the four questions and their answers, in the order of `ANSWERS`."""

SUBSTANTIAL_FROM = 17
"""Lowest answer to the second or third question that makes a problem substantial."""


@dataclass(frozen=True, slots=True)
class OveruseScore:
    """Total of the four answers (0 to 100), and whether the problem is a substantial one."""

    answers: tuple[int, int, int, int]
    total: int
    substantial: bool


def overuse_score(answers: Sequence[object]) -> OveruseScore:
    """Total overuse score of the four answers.

    Parameters
    ----------
    answers : sequence of object, shape (4,)
        Taking part, doing less, doing worse, pain; each 0, 8, 17 or 25.

    Returns
    -------
    OveruseScore
        Total from 0 to 100; `substantial` when the person could not take part at all (first answer 25), or did
        clearly less or clearly worse (second or third answer 17 or more). Pain alone is not substantial.

    Raises
    ------
    TypeError
        When an answer is no number.
    ValueError
        When there are not four, or an answer is not one of the four values.

    Notes
    -----
    The answers are added as given. The printed form lets a person skip three questions after the first one; a skipped
    question is the form's affair and must arrive here as an answer. The option values are from memory, and the terms of
    use of the published form were not checked: the total is of our own wording and not comparable with published ones.

    References
    ----------
    .. [1] Clarsen B. et al., Br J Sports Med 54:390 (2020).

    Examples
    --------
    >>> overuse_score([17, 17, 8, 8]).total
    50
    """
    if len(answers) != len(QUESTIONS):
        raise ValueError(f"overuse must have 4 answers, got {len(answers)}")
    first, second, third, fourth = (_read_answer(index, answer) for index, answer in enumerate(answers, start=1))
    substantial = first == ANSWERS[-1] or second >= SUBSTANTIAL_FROM or third >= SUBSTANTIAL_FROM
    return OveruseScore((first, second, third, fourth), first + second + third + fourth, substantial)


def _read_answer(index: int, answer: object) -> int:
    if isinstance(answer, bool) or not isinstance(answer, (int, float)):
        raise TypeError(f"overuse answer {index} must be 0, 8, 17 or 25, got {answer!r}")
    if answer not in ANSWERS:
        raise ValueError(f"overuse answer {index} must be 0, 8, 17 or 25, got {answer!r}")
    return int(answer)
