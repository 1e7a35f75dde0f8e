"""Tables of reference shoes: what is read, what is reported line by line."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.files.reference_table import MAX_PROBLEMS, MAX_ROWS, Target, read_targets, targets_text


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_any_usual_separator_is_read(mark):
    text = "\ufeff" + "Shoe,Stability,midfoot\r\nfen-1, 50 ,\r\n\r\nfen-2,,61.5\r\n".replace(",", mark)
    assert read_targets(text).targets == (Target("fen-1", stability=50.0), Target("fen-2", midfoot=61.5))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (" \n", "line 1: write a header line"),
        ("midfoot\n1", "must be a column “shoe”"),
        ("shoe\nx", "must be a column of scores"),
        ("shoe,midfoot,size\nx,1,2", "“size” is not a column"),
        ("shoe,midfoot,midfoot\nx,1,2", "“midfoot” appears twice"),
        ("shoe,midfoot\n", "line 2: write one line per shoe"),
        ("shoe,midfoot\n,1", "line 2, shoe: write the short name"),
        ("shoe,midfoot\nx,1\nx,2", "line 3, shoe: x appears twice"),
        ("shoe,midfoot\nx", "line 2: 2 cells wanted, got 1"),
        ("shoe,midfoot\nx,1e9", "line 2, midfoot: write a score from −1000 to 1000"),
        ("shoe,midfoot\nx,inf", "got “inf”"),
        ("shoe,midfoot\n" + "x,1\n" * (MAX_ROWS + 1), f"at most {MAX_ROWS} shoes"),
    ],
)
def test_problem_is_reported_by_line(text, words):
    table = read_targets(text)
    assert table.targets == ()
    assert words in table.problems[0]


def test_problems_are_not_listed_without_end():
    assert len(read_targets("shoe,midfoot\n" + "".join(f"s{n},x\n" for n in range(99))).problems) == MAX_PROBLEMS


score = st.one_of(st.none(), st.floats(-1000, 1000))
slug = st.from_regex(r"\A[a-z0-9-]{1,20}\Z")


@given(st.dictionaries(slug, st.tuples(score, score, score, score), min_size=1, max_size=8))
def test_what_is_written_is_read_back(shoes):
    targets = tuple(Target(shoe, *scores) for shoe, scores in shoes.items())
    assert read_targets(targets_text(targets)).targets == targets
