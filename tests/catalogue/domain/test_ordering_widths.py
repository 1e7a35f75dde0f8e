"""What to order of a size, split by width."""

from __future__ import annotations

from catalogue.domain.ordering import WidthCount, known_stock, short_width, with_orders


def orders(*counts):
    return {one.width: one.to_order for one in with_orders(counts)}


def test_pairs_of_another_width_do_not_cover_a_width():
    assert orders(WidthCount("D", held=5, sold=2), WidthCount("2E", sold=3)) == {"2E": 3, "D": 0, "": 0}


def test_spare_pairs_of_unknown_width_cover_the_width_that_lacks_most():
    counts = (WidthCount("D", sold=1), WidthCount("2E", sold=4), WidthCount("", held=3))
    assert orders(*counts) == {"2E": 1, "D": 1, "": 0}


def test_pair_chosen_at_a_fitting_and_sold_by_barcode_counts_once():
    assert orders(WidthCount("D", sold=2), WidthCount("", chosen=3)) == {"D": 2, "": 1}


def test_count_that_overtook_the_recorded_widths_makes_all_of_them_unknown():
    assert known_stock(4, {"D": 3, "2E": -1}) == {"D": 3, "": 1}
    assert known_stock(2, {"D": 3}) == {"": 2}


def test_promise_of_a_width_is_covered_by_it_and_by_pairs_of_unknown_width():
    assert short_width({"D": 1, "": 1}, {"D": 2}) is None
    assert short_width({"D": 1, "": 1}, {"D": 1, "2E": 2}) == "2E"
    assert short_width({"D": 1, "2E": 1, "": 0}, {"": 2}) is None
    assert short_width({"D": 1, "": 0}, {"D": 1, "": 1}) == ""


def test_pair_whose_width_was_recorded_once_alone_counts_once():
    assert orders(WidthCount("2E", chosen=2), WidthCount("", sold=3)) == {"2E": 2, "": 1}
    assert orders(WidthCount("2E", chosen=2, sold=2), WidthCount("", sold=1)) == {"2E": 2, "": 1}
    assert orders(WidthCount("D", chosen=1), WidthCount("2E", sold=1), WidthCount("", chosen=1)) == {
        "2E": 1,
        "D": 1,
        "": 0,
    }
