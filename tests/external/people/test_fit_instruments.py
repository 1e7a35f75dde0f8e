"""Clinical instruments, recurrence windows and sizes against published definitions."""

from datetime import date

import pytest

from catalogue.domain.sizes import half_size
from fittings.domain.fitting.need import ObservedFoot, Person, assess
from fittings.domain.people.overuse import overuse_score
from fittings.domain.people.recurrence import recurrence_class
from fittings.domain.shoes.matching import probability_within
from fittings.domain.shoes.sizing import size_of

# Foot Posture Index classes, Redmond, Crosbie and Ouvrier 2006 (PAGE): 6 to 9 pronated, 10 to 12 highly pronated; the
# points that the need rules give for a class are common practice, no source.
FPI_EDGES = [(0, 0), (5, 0), (6, 2), (9, 2), (10, 4), (12, 4), (-1, 0), (-4, 0), (-5, 0), (-12, 0)]


@pytest.mark.parametrize(("index", "points"), FPI_EDGES)
def test_need_follows_the_classes_of_the_foot_posture_index(index, points):
    gait = ObservedFoot(0, 0, 0, index)
    assert assess(Person("walking", left=gait, right=gait)).centre == 45 + points


@pytest.mark.parametrize("index", [13, -13, 1.5])
def test_an_impossible_foot_posture_index_is_refused(index):
    """F-09, PAGE: a total outside −12 to 12 or with a fraction is no score."""
    with pytest.raises(ValueError, match="fpi6"):
        assess(Person("walking", left=ObservedFoot(fpi6=index)))


# 2020 form of the overuse questionnaire, Clarsen et al., Br J Sports Med 54:390 (option values MEM, 0 to 100 sum PAGE).
@pytest.mark.parametrize(
    ("answers", "total", "substantial"),
    [
        ((0, 0, 0, 0), 0, False),
        ((8, 8, 8, 17), 41, False),  # O-05: pain alone is not substantial
        ((17, 17, 8, 8), 50, True),  # O-06
        ((25, 25, 25, 25), 100, True),  # O-04
        ((25, 0, 0, 0), 25, True),
        ((0, 0, 17, 0), 17, True),
    ],
)
def test_overuse_score(answers, total, substantial):
    found = overuse_score(answers)
    assert (found.total, found.substantial) == (total, substantial)


@pytest.mark.parametrize("value", [6, 13, 19])
def test_answers_of_the_2013_form_are_refused(value):
    """O-07: 13 is an option of the 2013 form only (MEM)."""
    with pytest.raises(ValueError, match="overuse answer 2 must be 0, 8, 17 or 25"):
        overuse_score([0, value, 0, 0])


# Fuller et al., Br J Sports Med 40:193 (2006): early within 2 months, late 2 to 12, delayed after (PAGE); inclusive
# edges are a convention (DERIVED).
@pytest.mark.parametrize(
    ("reported", "kind"),
    [
        (date(2025, 3, 31), "early"),
        (date(2025, 4, 1), "late"),
        (date(2026, 1, 31), "late"),
        (date(2026, 2, 1), "delayed"),
        (date(2025, 1, 30), None),  # before the return: an exacerbation (Fuller 2007, PAGE)
    ],
)
def test_windows_of_recurrence_in_calendar_months(reported, kind):
    assert recurrence_class(date(2025, 1, 31), reported) == kind


# Conversion formulas seen in a public calculator (PAGE), EU form with 15 mm allowance MEM; not the standard's tables.
SIZES = [
    (220, 35.25, 2.9843, 3.9843, 4.9843, 3.0), (230, 36.75, 4.1654, 5.1654, 6.1654, 4.0),
    (240, 38.25, 5.3465, 6.3465, 7.3465, 5.5), (245, 39.00, 5.9370, 6.9370, 7.9370, 6.0),
    (250, 39.75, 6.5276, 7.5276, 8.5276, 6.5), (255, 40.50, 7.1181, 8.1181, 9.1181, 7.0),
    (260, 41.25, 7.7087, 8.7087, 9.7087, 7.5), (265, 42.00, 8.2992, 9.2992, 10.2992, 8.5),
    (270, 42.75, 8.8898, 9.8898, 10.8898, 9.0), (275, 43.50, 9.4803, 10.4803, 11.4803, 9.5),
    (280, 44.25, 10.0709, 11.0709, 12.0709, 10.0), (290, 45.75, 11.2520, 12.2520, 13.2520, 11.5),
    (300, 47.25, 12.4331, 13.4331, 14.4331, 12.5),
]  # fmt: skip


@pytest.mark.parametrize(("length_mm", "eu", "uk", "us_men", "us_women", "uk_half"), SIZES)
def test_sizes_from_foot_length(length_mm, eu, uk, us_men, us_women, uk_half):
    size = size_of(length_mm)
    assert (size.eu, size.uk, size.us_men, size.us_women) == pytest.approx((eu, uk, us_men, us_women), abs=5e-5)
    assert half_size(size.uk) == uk_half


def test_one_size_is_a_paris_point_or_a_barleycorn():
    """Paris point 2/3 cm and barleycorn 1/3 inch (PAGE)."""
    assert size_of(260 + 20 / 3).eu - size_of(260).eu == pytest.approx(1.0)
    assert size_of(260 + 25.4 / 3).uk - size_of(260).uk == pytest.approx(1.0)


# JCGM 106:2012, conformity probability (J-05 DEF, J-06 DERIVED, J-02 DEF).
@pytest.mark.parametrize(
    ("value", "u", "low", "high", "expected"),
    [
        (10.0, 0.5, 9.0, 11.0, 0.9544997361036416),
        (24.6, 0.3, 21.0, 25.0, 0.9087887802741321),
        (50.0, 1.0, 50.0, 100.0, 0.5),
        (-5.47, 0.05, -100.0, -5.40, 0.9192433407662273),  # J-01: printed 0.92 MEM, value exact
        (98.0, 1.0, 0.0, 100.0, 0.9772498680518208),  # J-03 DEF
    ],
)
def test_probability_of_being_in_a_target(value, u, low, high, expected):
    assert probability_within([value], [u], low, high)[0] == pytest.approx(expected, abs=1e-12)
