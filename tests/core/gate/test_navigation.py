"""The place that the navigation names as the current one."""

from __future__ import annotations

import pytest

from core.gate.navigation import staff_groups


@pytest.mark.parametrize(
    ("path", "place"),
    [
        ("/lab/", "Overview"),
        ("/lab/tests/7/", "Tests"),
        ("/lab/chambers/C-1/climate/", "Bench day"),
        ("/lab/climate/3/", "Bench day"),
        ("/lab/rigs/rig-1/calibrations/", "Rigs"),
        ("/lab/calibrations/4/sign/", "Rigs"),
    ],
)
def test_page_belongs_to_the_place_that_it_is_reached_from(cast, path, place):
    groups = staff_groups(cast.technician, path)
    assert [link.label for group in groups for link in group.items if link.is_here] == [place]
