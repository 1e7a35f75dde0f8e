"""What comes in of a foot: every value has limits, and the need reads some of them."""

from __future__ import annotations

from dataclasses import fields

from fittings.domain.bounds import LIMITS
from fittings.domain.fitting.grading import SIGN_COLUMNS
from fittings.domain.fitting.intake import FOOT_LIMITS, FootIntake
from fittings.domain.fitting.need import OBSERVED_COLUMNS


def test_every_value_of_a_foot_has_limits():
    assert {field.name for field in fields(FootIntake)} == set(FOOT_LIMITS)
    assert set(FOOT_LIMITS.values()) <= set(LIMITS)


def test_what_the_need_and_the_looks_read_comes_in():
    assert {*OBSERVED_COLUMNS, *SIGN_COLUMNS} <= set(FOOT_LIMITS)
