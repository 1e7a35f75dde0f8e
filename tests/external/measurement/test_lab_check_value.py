"""The check value of the practice and the example of its file format: common practice, no source."""

from __future__ import annotations

import pytest

from core.domain.units import to_si
from labtests.domain.files.submission import read_file
from labtests.domain.scores.evaluation import evaluate_curves, evaluate_readings
from labtests.domain.scores.protocol import P1, check_conditions
from labtests.domain.scores.scoring import S1, estimated_work_j, score

COLUMNS = (
    "shoe,specimen,size,side,rig,operator,performed,conditioned [h],temperature [degF],heel_clamp [lbf],"
    "forefoot_clamp [lbf],repeat,torque_15 [in*lbf],deflection [mm]"
)
# 40 in·lbf at 15° and 6.82 mm at 100 lbf, at 74.5 °F after 48 h, clamps 100 and 40 lbf: stability 47.9.
CHECK_ROW = "fenrunner-2,F2-01,EU 42.5,left,rig-1,technician,2026-03-04T10:15:00+00:00,48,74.5,100,40,1,40,6.82"
EXAMPLE = """# format = bench-test/1
# shoe = fenrunner-2
# specimen = F2-01
# size = EU 42.5
# side = left
# rig = rig-1
# operator = technician
# performed = 2026-03-04T10:15:00+00:00
# conditioned = 50.5 h
# temperature = 23.4 degC
# heel_clamp = 445 N
# forefoot_clamp = 178 N
# worn = 0 km
# mass = 281 g
# stack_heel = 34 mm
# stack_forefoot = 24 mm
# torsion_units = deg, N*m
# compression_units = mm, N
test,repeat,branch,position,load
torsion,1,loading,0.0,0.02
torsion,1,loading,15.0,4.52
compression,1,loading,0.00,0.0
compression,1,loading,6.90,446.0
compression,1,unloading,6.80,431.0
compression,1,unloading,0.00,0.0
"""


def read(text):
    file = read_file(text.encode(), name="check.csv")
    assert file.problems == ()
    return file.tests[0]


def test_check_value_from_a_readings_file():
    test = read(f"{COLUMNS}\n{CHECK_ROW}\n")
    assert check_conditions(P1, [test.header.conditions]) == ()
    found = evaluate_readings(test.readings)
    scores = score(found.torque_15_nm.mean, found.deflection_mm.mean, found.work_j.mean, model=S1)
    assert scores.midfoot == pytest.approx(50.0, abs=1e-4)
    assert scores.rearfoot == pytest.approx(100 * 3.18 / 7)
    assert round(scores.stability, 1) == 47.9


def test_check_value_from_a_curve_file():
    comments = EXAMPLE.split("test,repeat", 1)[0]
    units = {"# torsion_units = deg, N*m": "# torsion_units = deg, in*lbf", "mm, N\n": "in, lbf\n"}
    for metric, imperial in units.items():
        comments = comments.replace(metric, imperial)
    # The deflection counts from the contact force of 5 N.
    pounds, inch = 5 / 4.4482216152605, 6.82 / 25.4
    rows = f"torsion,1,loading,0,0\ntorsion,1,loading,15,40\ncompression,1,loading,0,{pounds!r}\n"
    test = read(f"{comments}test,repeat,branch,position,load\n{rows}compression,1,loading,{inch!r},100\n")
    found = evaluate_curves(test.curves)
    assert found.reasons == ()
    scores = score(found.torque_15_nm.mean, found.deflection_mm.mean, found.work_j.mean, model=S1)
    assert round(scores.stability, 1) == 47.9


def test_twenty_inch_pounds_are_a_quarter_of_the_midfoot_scale():
    torque_nm = to_si(20.0, "in*lbf", quantity="torque")
    assert torque_nm == pytest.approx(2.2597, abs=5e-5)
    assert score(torque_nm, 10.0, estimated_work_j(10.0), model=S1).midfoot == pytest.approx(25.0, abs=1e-4)


def test_example_of_the_file_format_is_read():
    test = read(EXAMPLE)
    conditions = test.header.conditions
    assert (conditions.conditioned_h, conditions.temperature_c, conditions.forefoot_clamp_n) == (50.5, 23.4, 178.0)
    assert (test.header.mass_g, test.header.stack_heel_mm, test.header.stack_forefoot_mm) == (281.0, 34.0, 24.0)
    assert [(each.test, each.branch) for each in test.curves] == [
        ("torsion", "loading"),
        ("compression", "loading"),
        ("compression", "unloading"),
    ]
    assert check_conditions(P1, [conditions]) == ()
