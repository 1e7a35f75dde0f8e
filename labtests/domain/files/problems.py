"""What is wrong with a file, said so that the person who made it can correct it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NoReturn

MAX_PROBLEMS = 50


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong: where it is and how to fix it. Lines count from 1."""

    file: str
    line: int
    column: str
    problem: str


class FileRejected(Exception):
    """The file cannot be taken; carries every problem found (up to `MAX_PROBLEMS`), in the order of their lines."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=lambda problem: problem.line))
        super().__init__(f"{len(self.problems)} problems, the first: {self.problems[0].problem}")


class FieldError(ValueError):
    """A single value that cannot be read; the reader of the file adds where it is."""


@dataclass(slots=True)
class ProblemLog:
    """Collects the problems of one file, stops at `MAX_PROBLEMS`."""

    file: str
    problems: list[Problem] = field(default_factory=list)

    @property
    def is_full(self) -> bool:
        return len(self.problems) >= MAX_PROBLEMS

    def add(self, line: int, column: str, problem: str) -> None:
        """Note a problem and go on looking."""
        if not self.is_full:
            self.problems.append(Problem(file=self.file, line=line, column=column, problem=problem))

    def reject(self, line: int, column: str, problem: str) -> NoReturn:
        """Note a problem after which nothing more can be read."""
        self.add(line, column, problem)
        raise FileRejected(self.problems)

    def raise_if_any(self) -> None:
        """Raise `FileRejected` where anything was noted."""
        if self.problems:
            raise FileRejected(self.problems)
