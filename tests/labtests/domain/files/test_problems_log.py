"""The log of problems: ordered by line, at most fifty."""

from __future__ import annotations

import pytest

from labtests.domain.files.problems import MAX_PROBLEMS, FileRejected, ProblemLog


def test_problems_come_in_the_order_of_their_lines():
    log = ProblemLog("a.csv")
    log.add(9, "load", "late")
    log.add(2, "shoe", "early")
    with pytest.raises(FileRejected, match="2 problems, the first: early") as caught:
        log.raise_if_any()
    assert [problem.line for problem in caught.value.problems] == [2, 9]


def test_log_stops_at_fifty_problems():
    log = ProblemLog("a.csv")
    for line in range(1, 80):
        log.add(line, "load", "wrong")
    assert log.is_full
    assert len(log.problems) == MAX_PROBLEMS == 50


def test_clean_log_raises_nothing():
    log = ProblemLog("a.csv")
    log.raise_if_any()
    assert log.problems == []
