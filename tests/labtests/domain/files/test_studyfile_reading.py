"""Tables from elsewhere and the order of a study's tests."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.files.problems import FileRejected
from labtests.domain.files.studyfile import MAX_ROWS, StudyRow, read_study_table
from labtests.domain.studies.run_order import run_order


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_columns_are_found_by_name_in_any_order(delimiter):
    text = "\n\nNote,Value,LAB\nx,4.5,A\n\ny, -1e3 ,B\n".replace(",", delimiter)
    assert read_study_table(text.encode(), ["lab"]) == (StudyRow(("A",), 4.5, 4), StudyRow(("B",), -1000.0, 6))


@pytest.mark.parametrize(
    ("text", "line", "column", "words"),
    [
        ("lab,value,lab\nA,1,B", 1, "lab", "appears twice"),
        ("laboratory,value\nA,1", 1, "lab", "is missing in the heading; write lab, value"),
        ("lab,value\nA", 2, "file", "the line has 1 columns; the heading asks for 2"),
        ("lab,value\n ,1", 2, "lab", "write a name of 1 to 60 characters"),
        ("lab,value\n" + "A" * 61 + ",1", 2, "lab", "write a name of 1 to 60 characters"),
        ("lab,value\nA,4_5", 2, "value", "“4_5” is not a number"),
        ("lab,value\nA,inf", 2, "value", "“inf” is not a number"),
        ("lab,value\nA,1.1e15", 2, "value", "is not a number"),
        ("lab,value", 1, "file", "no row below the heading"),
        ("", 1, "file", "the file is empty"),
        ("lab,value\n" + "x" * 200_000, 2, "file", "the line has 200000 characters; at most 2000 are accepted"),
    ],
)
def test_each_problem_is_named_by_line_and_column(text, line, column, words):
    with pytest.raises(FileRejected) as caught:
        read_study_table(text.encode(), ["lab"])
    problem = caught.value.problems[0]
    assert (problem.line, problem.column) == (line, column)
    assert words in problem.problem


def test_problems_stop_at_fifty():
    with pytest.raises(FileRejected) as caught:
        read_study_table(("lab,value\n" + "A,x\n" * 200).encode(), ["lab"])
    assert len(caught.value.problems) == 50


def test_table_that_is_too_long_is_refused():
    with pytest.raises(FileRejected, match="more than 5000 rows"):
        read_study_table(("lab,value\n" + "A,1\n" * (MAX_ROWS + 1)).encode(), ["lab"])


@given(st.lists(st.tuples(st.sampled_from("ABC"), st.floats(-1e9, 1e9)), min_size=1, max_size=20))
def test_what_is_written_is_read_back(rows):
    text = "lab,value\n" + "".join(f"{lab},{value!r}\n" for lab, value in rows)
    assert [(row.names[0], row.value) for row in read_study_table(text.encode(), ["lab"])] == rows


@given(st.integers(2, 6), st.integers(2, 4), st.integers(1, 4), st.integers(0, 99))
def test_order_holds_every_test_once_trial_by_trial(parts, operators, trials, seed):
    names = [f"p{n}" for n in range(parts)], [f"o{n}" for n in range(operators)]
    runs = run_order(*names, trials, rng=np.random.default_rng(seed))
    assert len(set(runs)) == len(runs) == parts * operators * trials
    assert [run.trial for run in runs] == sorted(run.trial for run in runs)
    assert runs == run_order(*names, trials, rng=np.random.default_rng(seed))


def test_order_of_no_trial_is_refused():
    with pytest.raises(ValueError, match="trials must be ≥ 1, got 0"):
        run_order(["a"], ["x"], 0, rng=np.random.default_rng(1))
