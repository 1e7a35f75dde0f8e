"""What was typed in becomes a readings file that reads back as typed."""

from __future__ import annotations

import dataclasses

import pytest

from labtests.domain.files.handwritten import RepeatTyped, TestTyped, readings_file_of
from labtests.domain.files.submission import read_file, upload_kind

TYPED = TestTyped(
    shoe="fenrunner-2",
    specimen="F2-01",
    size="EU 42.5",
    side="left",
    rig="rig-1",
    operator="technician",
    performed="2026-03-04T10:15:00+00:00",
    conditioned_h="48",
    temperature="74.5",
    temperature_unit="degF",
    heel_clamp="100",
    forefoot_clamp="40",
    clamp_unit="lbf",
    torque_unit="in*lbf",
    deflection_unit="in",
    repeats=(RepeatTyped("40", "0.2685"), RepeatTyped("40.2", "0.2690")),
)


def read(typed):
    return read_file(readings_file_of(typed).encode(), name="by-hand.csv")


def test_it_reads_back_in_kept_units():
    file = read(TYPED)
    assert (file.problems, file.warnings) == ((), ())
    (test,) = file.tests
    assert test.header.conditions.temperature_c == pytest.approx(23.611, abs=1e-3)
    assert [reading.torque_15_nm for reading in test.readings] == pytest.approx([4.51939, 4.54199], abs=1e-5)
    assert test.readings[0].deflection_mm == pytest.approx(6.8199)
    assert (test.header.worn_km, test.header.mass_g) == (None, None)


def test_optional_values_are_written_where_given():
    (test,) = read(dataclasses.replace(TYPED, worn_km="120", mass_g="274")).tests
    assert (test.header.worn_km, test.header.mass_g) == (120.0, 274.0)


def test_it_is_taken_for_a_readings_file():
    assert upload_kind(readings_file_of(TYPED).encode()) == "readings"


@pytest.mark.parametrize("text", ['a "quoted" word', "a,b", "# no comment", "", "ü"])
def test_odd_text_stays_in_its_cell(text):
    columns = {problem.column for problem in read(dataclasses.replace(TYPED, specimen=text)).problems}
    assert columns == {"specimen"}


def test_problem_line_leads_back_to_the_repeat():
    typed = dataclasses.replace(TYPED, repeats=(*TYPED.repeats, RepeatTyped("4,5", "0.27")))
    (problem,) = read(typed).problems
    assert (problem.column, typed.repeat_on(problem.line)) == ("torque_15", 2)
    assert typed.repeat_on(1) is None
    assert typed.repeat_on(99) is None
