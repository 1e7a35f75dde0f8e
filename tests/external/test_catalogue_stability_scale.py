"""Lanes of the stability scale against a published example of interval partitioning."""

from __future__ import annotations

import itertools

from catalogue.domain.stability_scale import assign_lanes

# PAGE: California State University Stanislaus, CS 4440, take-home exercise on interval partitioning (2020) and its
# solution: two worked inputs; each needs six rooms.
FIRST = [
    (13, 15),
    (17, 22),
    (12, 17),
    (9, 10),
    (12, 15),
    (9, 11),
    (11, 14),
    (10, 15),
    (16, 19),
    (12, 14),
    (18, 23),
    (8, 11),
]
SECOND = [
    (8, 11),
    (13, 15),
    (9, 10),
    (8, 10),
    (15, 16),
    (16, 19),
    (18, 19),
    (8, 10),
    (9, 14),
    (11, 16),
    (17, 19),
    (9, 13),
]


def rooms(intervals):
    ordered = sorted(intervals)
    return ordered, assign_lanes(ordered)


def test_published_examples_need_six_rooms():
    for example in (FIRST, SECOND):
        _, lanes = rooms(example)
        assert max(lanes) + 1 == 6


def test_published_examples_hold_no_two_at_once():
    for example in (FIRST, SECOND):
        ordered, lanes = rooms(example)
        for lane in set(lanes):
            held = [interval for interval, chosen in zip(ordered, lanes, strict=True) if chosen == lane]
            assert all(left[1] <= right[0] for left, right in itertools.pairwise(held))
