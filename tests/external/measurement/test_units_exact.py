"""Unit conversion against exact values.

Source: NIST SP 811 (2008) App. B.8/B.9, yard-and-pound agreement 1959, CGPM 1901.
Confidence marks as in the project's list of check values: PAGE seen in a public page, DEF exact by definition.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.domain.units import QUANTITIES, UnitError, from_si, stored_unit, to_si, units_of


@pytest.mark.parametrize(
    ("value", "unit", "quantity", "expected", "rel"),
    [
        (1.0, "lbf", "force", 4.4482216152605, 1e-13),  # U-01 PAGE
        (40.0, "lbf", "force", 177.92886461042, 1e-12),  # U-02 DEF
        (100.0, "lbf", "force", 444.82216152605, 1e-12),  # U-03 DEF
        (1.0, "in*lbf", "torque", 0.1129848290276167, 1e-13),  # U-04 PAGE
        (12.0, "in*lbf", "torque", 1.3558179483314004, 1e-13),  # U-05 PAGE: 1 lbf·ft = 12 lbf·in
        (10.0, "in*lbf", "torque", 1.129848290276167, 1e-12),  # U-06 DEF
        (20.0, "in*lbf", "torque", 2.259696580552334, 1e-12),  # U-07 DEF
        (50.0, "in*lbf", "torque", 5.649241451380835, 1e-12),  # U-08 PAGE
        (1.0, "lbf/in", "stiffness", 0.17512683524647638, 1e-13),  # U-10 DEF
        (1.0, "oz", "mass", 28.349523125, 0),  # U-12 DEF
        (1.0, "lb", "mass", 453.59237, 0),  # DEF
        (1.0, "mi", "distance", 1.609344, 0),  # U-13 DEF
        (1.0, "in", "length", 25.4, 0),  # DEF
        (48.0, "h", "time", 172800.0, 0),  # U-21 DEF
        (20.0 / 15.0, "in*lbf/deg", "torsional_stiffness", 0.15064643870348893, 1e-9),  # U-20 DEF
        (254.0, "lbf/in", "stiffness", 44.482216152605, 1e-9),  # U-22 DEF: 100 lbf over 10 mm
    ],
)
def test_factor_is_exact(value, unit, quantity, expected, rel):
    assert to_si(value, unit, quantity=quantity) == pytest.approx(expected, rel=rel, abs=0)


def test_newton_metre_to_inch_pound():
    # U-09 DEF
    assert from_si(1.0, "in*lbf", quantity="torque") == pytest.approx(8.850745791327185, rel=1e-13)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(73.4, 23.0), (68.0, 20.0), (72.0, 200 / 9), (75.0, 215 / 9), (-40.0, -40.0), (32.0, 0.0), (212.0, 100.0)],
)
def test_fahrenheit_to_celsius(fahrenheit, celsius):
    # U-14, U-15, U-16 DEF
    assert to_si(fahrenheit, "degF", quantity="temperature") == pytest.approx(celsius, abs=1e-12)


@pytest.mark.parametrize(("celsius", "fahrenheit"), [(21.0, 69.8), (25.0, 77.0)])
def test_celsius_to_fahrenheit(celsius, fahrenheit):
    # U-17 DEF
    assert from_si(celsius, "degF", quantity="temperature") == pytest.approx(fahrenheit, abs=1e-12)


def test_temperature_difference_has_no_offset():
    # U-18 DEF
    assert from_si(2.0, "degF", quantity="temperature_difference") == pytest.approx(3.6, abs=1e-12)


UNITS = sorted((name, unit) for name, quantity in QUANTITIES.items() for unit in quantity.units)


@given(st.sampled_from(UNITS), st.floats(-1e6, 1e6))
def test_there_and_back_is_the_same_value(pair, value):
    quantity, unit = pair
    assert from_si(to_si(value, unit, quantity=quantity), unit, quantity=quantity) == pytest.approx(value, abs=1e-9)


def test_arrays_are_converted_at_once_and_left_alone():
    given_values = np.array([32.0, 212.0])
    assert to_si(given_values, "degF", quantity="temperature").tolist() == pytest.approx([0.0, 100.0])
    assert given_values.tolist() == [32.0, 212.0]


def test_stored_units_are_named():
    assert stored_unit("mass") == "g"
    assert units_of("torque") == ("N*m", "in*lbf")


def test_unknown_unit_or_quantity_names_what_is_accepted():
    with pytest.raises(UnitError, match=r"torque must be given in N\*m or in\*lbf, got “kg”"):
        to_si(1.0, "kg", quantity="torque")
    with pytest.raises(UnitError, match="quantity must be one of force, torque"):
        units_of("colour")
