"""Readings from curves: hand-worked numbers and the laws they must keep."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.curves.compression import read_compression
from labtests.domain.curves.curves import TARGET_FORCE_N, CurveShortfall
from labtests.domain.curves.torsion import read_torsion


def arrays(*columns):
    return tuple(np.array(column, dtype=float) for column in columns)


def test_torque_is_interpolated_at_15_degrees_less_its_value_at_zero():
    # Between 10° and 20° the torque rises from 3.5 to 6.5, so 5.0 at 15°; 0.5 at 0° is the offset.
    reading = read_torsion(*arrays([0, 10, 20], [0.5, 3.5, 6.5]))
    assert (reading.torque_15_nm, reading.zero_offset_nm, reading.directions) == (4.5, 0.5, 1)


def test_both_directions_are_averaged():
    # +15°: 5.0 - 0.5 = 4.5; -15°: 0.5 - (-5.0) = 5.5; mean 5.0.
    reading = read_torsion(*arrays([0, 15, 0, -15], [0.5, 5.0, 0.5, -5.0]))
    assert (reading.torque_15_nm, reading.directions) == (5.0, 2)


def test_negative_direction_alone_counts():
    assert read_torsion(*arrays([0, -20], [0, -8])).torque_15_nm == 6.0


def test_zero_is_interpolated_where_no_point_is_at_zero():
    assert read_torsion(*arrays([-0.5, 0.5, 15], [0.0, 1.0, 6.5])).torque_15_nm == 6.0


def test_points_at_the_same_angle_are_averaged():
    assert read_torsion(*arrays([0, 15, 15], [0, 4, 6])).torque_15_nm == 5.0


@pytest.mark.parametrize(
    ("angle", "code", "words"),
    [
        ([0, 14.9], "torsion_short", r"stops at 14\.9°, 15° is needed"),
        ([0, -14], "torsion_short", "stops at −14°"),
        ([-9, 0, 16], "torsion_short", "stops at −9°"),
        ([-0.2, 0.3], "torsion_short", "stops at 0.3°"),
        ([2, 16], "torsion_zero", "begins at 2°"),
        ([-16, -2], "torsion_zero", "begins at −2°"),
    ],
)
def test_torsion_is_never_extrapolated(angle, code, words):
    with pytest.raises(CurveShortfall, match=words) as caught:
        read_torsion(np.array(angle, dtype=float), np.arange(len(angle), dtype=float))
    assert caught.value.code == code


def test_play_about_zero_is_no_second_direction():
    assert read_torsion(*arrays([-0.5, 0, 15], [0, 0, 5])).directions == 1


def test_deflection_and_work_of_a_straight_curve_by_hand():
    # Contact at 5 N (1 mm), 444.82… N at 1 + 8 mm: work = (5 + 444.82…) / 2 x 8 mm.
    reading = read_compression(*arrays([0, 1, 9, 10], [0, 5, TARGET_FORCE_N, 500]))
    assert reading.contact_mm == 1.0
    assert reading.deflection_mm == pytest.approx(8.0)
    assert reading.work_j == pytest.approx((5 + TARGET_FORCE_N) / 2 * 8 / 1000)
    assert reading.energy_return is None


def test_contact_and_end_are_interpolated():
    reading = read_compression(*arrays([0, 2, 10], [0, 10, 10 + 2 * (TARGET_FORCE_N - 10)]))
    assert reading.contact_mm == pytest.approx(1.0)
    assert reading.deflection_mm == pytest.approx(5.0)


def test_energy_return_is_of_the_whole_loop():
    loading = arrays([0, 10], [0, 500])
    unloading = arrays([10, 5, 0], [500, 100, 0])
    # In: 500 x 10 / 2 = 2500; back: (500 + 100)/2 x 5 + 100/2 x 5 = 1750.
    assert read_compression(*loading, unloading).energy_return == pytest.approx(0.7)


@pytest.mark.parametrize(
    ("loading", "unloading"),
    [
        # Stops at 100 N, above the contact force.
        (([0, 10], [0, 500]), ([10, 5], [500, 100])),
        # Swings back under load after the reading: no work was put in over the whole branch.
        (([0, 10, -80], [0, 500, 500]), ([-80, -90], [500, 0])),
    ],
)
def test_energy_return_of_a_part_of_a_loop_is_not_given(loading, unloading):
    assert read_compression(*arrays(*loading), arrays(*unloading)).energy_return is None


@pytest.mark.parametrize(
    ("mm", "newton", "code"),
    [
        ([0, 5, 9], [0, 200, 444.7], "compression_short"),
        ([0, 9], [20, 500], "compression_contact"),
        ([9, 0], [0, 500], "compression_backwards"),
    ],
)
def test_compression_is_never_extrapolated(mm, newton, code):
    with pytest.raises(CurveShortfall) as caught:
        read_compression(*arrays(mm, newton))
    assert caught.value.code == code


def test_curve_ending_at_the_protocols_rounded_force_is_read_at_its_end():
    assert read_compression(*arrays([0, 9], [5, 444.8])).deflection_mm == 9.0


def test_force_that_wavers_for_good_is_read_where_it_stays():
    # 430 and 410 pool to 420, so the target is reached on the way from there to 460.
    reading = read_compression(*arrays([0, 1, 2, 3, 4], [5, 200, 430, 425, 460]))
    assert reading.deflection_mm == pytest.approx(3.0 + (TARGET_FORCE_N - 427.5) / (460 - 427.5))


STEPS = st.lists(st.floats(0.05, 3.0), min_size=8, max_size=30)


def rising(steps):
    return np.concatenate(([0.0], np.cumsum(steps)))


@given(STEPS, STEPS, st.floats(-50, 50))
def test_constant_added_to_every_torque_changes_nothing(angles, torques, offset):
    n = min(len(angles), len(torques))
    angle = rising(angles[:n]) * (16 / sum(angles[:n]))
    torque = rising(torques[:n])
    moved = read_torsion(angle, torque + offset).torque_15_nm
    assert moved == pytest.approx(read_torsion(angle, torque).torque_15_nm, abs=1e-9)


@given(STEPS, STEPS, st.floats(0.1, 10))
def test_readings_scale_with_their_units(mm, newton, factor):
    n = min(len(mm), len(newton))
    displacement = rising(mm[:n])
    force = rising(newton[:n]) * (450 / sum(newton[:n]))
    plain, scaled = read_compression(displacement, force), read_compression(displacement * factor, force)
    assert scaled.deflection_mm == pytest.approx(plain.deflection_mm * factor)
    assert scaled.work_j == pytest.approx(plain.work_j * factor)


@given(STEPS, STEPS, st.floats(-20, 20))
def test_where_the_displacement_is_zeroed_changes_nothing(mm, newton, shift):
    n = min(len(mm), len(newton))
    displacement, force = rising(mm[:n]), rising(newton[:n]) * (450 / sum(newton[:n]))
    moved = read_compression(displacement + shift, force)
    assert moved.deflection_mm == pytest.approx(read_compression(displacement, force).deflection_mm, abs=1e-8)


@given(STEPS, STEPS)
def test_work_is_between_contact_force_and_target_force_times_the_way(mm, newton):
    n = min(len(mm), len(newton))
    reading = read_compression(rising(mm[:n]), rising(newton[:n]) * (450 / sum(newton[:n])))
    assert 5 * reading.deflection_mm / 1000 <= reading.work_j + 1e-12
    assert reading.work_j <= TARGET_FORCE_N * reading.deflection_mm / 1000 + 1e-12
