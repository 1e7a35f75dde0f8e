"""Shared fixtures are built for the tests of many files, and never under a clock or settings of one file's own."""

from __future__ import annotations

import pytest

from tests.shared import wanted_by


@pytest.fixture(autouse=True)
def _surroundings_of_this_file():
    pass


def test_file_that_may_set_the_clock_builds_its_own(request, cast):
    assert cast.technician
    assert wanted_by(request.node) == []
