"""Rows that stand in runs are read as the slower readers read them; anything else is left to those."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.files import curvetable
from labtests.domain.files.benchfile import read_bench_file
from labtests.domain.files.curveruns import read_runs
from labtests.domain.files.problems import FileRejected
from tests.labtests.bench_text import COMPRESSION, TORSION, bench_bytes


def both_ways(data):
    """What a file says with the runs' reader and without it."""
    found = []
    for reader in (read_runs, lambda *_, **__: None):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(curvetable, "read_runs", reader)
            try:
                bench = read_bench_file(data, file="a.csv")
                found.append([(s.test, s.repeat, s.branch, s.position.tolist(), s.load.tolist()) for s in bench.curves])
            except FileRejected as rejected:
                found.append(rejected.problems)
    return found


row = st.tuples(
    st.sampled_from(["torsion", "compression", "twist"]),
    st.sampled_from(["1", "2", "03", "1000", "1.0"]),
    st.sampled_from(["loading", "unloading", " loading"]),
    st.sampled_from(["0", "1.5", "-2", "1e1", "nan", "", "99999", "1_0", " 3", "+4"]),
    st.sampled_from(["0", "0.25", "1e999", "-.5", "x", "7,8", "1-2"]),
).map(",".join)
usual = st.sampled_from([*TORSION, *COMPRESSION])


@given(st.lists(st.one_of(usual, usual, usual, row, st.just("")), max_size=12), st.sampled_from(["\n", "\r\n"]))
def test_same_values_and_same_words_as_the_other_readers(rows, end):
    quick, slow = both_ways(bench_bytes(rows).replace(b"\n", end.encode()))
    assert quick == slow


@given(st.lists(st.floats(-80, 80), min_size=2, max_size=30), st.sampled_from(["{!r}", "{:.3f}", "{:.2e}"]))
def test_numbers_written_in_any_usual_way_are_the_same(values, written):
    rows = [f"torsion,1,loading,{written},{written}".format(value, value) for value in values]
    quick, slow = both_ways(bench_bytes(rows))
    assert quick == slow


def test_rows_of_a_clean_file_are_read_in_runs():
    runs = read_runs("\n".join(COMPRESSION + TORSION))
    assert [(run.test, run.branch, run.lines[0]) for run in runs] == [
        ("torsion", "loading", 5),
        ("compression", "loading", 1),
        ("compression", "unloading", 3),
    ]
    assert np.array_equal(runs[0].load, [0.5, 3.5, 6.5])


def test_numbers_with_exponents_are_read_in_runs():
    assert read_runs("torsion,1,loading,1e0,2.5E-1")[0].load.tolist() == [0.25]


@pytest.mark.parametrize(
    "rows",
    [
        ["torsion,1,loading,0,1", "torsion,2,loading,0,1", "torsion,1,loading,1,2"],
        ["torsion,1,loading,0,1", "", "torsion,1,loading,1,2"],
        ["torsion,1,loading,0,1,2"],
        ["torsion,1,loading,0,1e999"],
        ["torsion,1,loading,0,1-2"],
        ["torsion,0,loading,0,1"],
        ["torsion,1,loading,0,²"],
        ["torsion,1,loading,0,.5"],
        ["torsion,1,loading,0,1", "torsion,1,loading,0,1,2", "torsion,1,loading,0"],
        ["torsion,1,loading,0,1;torsion,1,loading,0,1"],
    ],
)
def test_what_is_not_plain_is_left_to_others(rows):
    assert read_runs("\n".join(rows)) is None


@given(st.lists(st.integers(1, 40), min_size=1, max_size=9), st.integers(1, 9))
def test_each_run_ends_where_the_next_begins(sizes, digits):
    rows = [f"torsion,{run},loading,{n},{n * 10**digits}" for run, size in enumerate(sizes, 1) for n in range(size)]
    runs = read_runs("\n".join(rows), first_line=5)
    assert [run.load.size for run in runs] == sizes
    assert [run.lines[0] for run in runs] == [5 + sum(sizes[:place]) for place in range(len(sizes))]


@pytest.mark.parametrize("order", ["121", "1221", "1121", "12221", "1112", "12121"])
def test_a_run_in_two_parts_is_left_to_others(order):
    rows = [f"torsion,{run},loading,{n},1" for n, run in enumerate(order)]
    read = read_runs("\n".join(rows))
    assert (read is None) == (order != "1112")
