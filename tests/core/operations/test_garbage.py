"""Searching for garbage less often."""

from __future__ import annotations

import gc

import pytest

from core.operations import garbage


@pytest.fixture(autouse=True)
def as_before():
    before = gc.get_threshold()
    yield
    gc.set_threshold(*before)


def test_what_exists_is_left_out_of_later_searches():
    gc.set_threshold(700, 10, 10)
    frozen = gc.get_freeze_count()
    kept = [[] for _ in range(5000)]
    garbage.search_less_often()
    assert gc.get_freeze_count() >= frozen + len(kept)
    assert gc.get_threshold() == (50_000, 20, 20)


def test_garbage_made_later_is_still_found():
    garbage.search_less_often()
    circle = []
    circle.append(circle)
    del circle
    assert gc.collect() >= 1
