"""The check digit of a GTIN against the worked example of GS1.

Source: PAGE, "Check Digit Calculator" of GS1 Hong Kong (gs1hk.org), "Example of a check digit calculation for the 13
digit field": 6 2 9 1 0 4 1 5 0 0 2 1 gives a sum of 57 and the check digit 3. The GS1 General Specifications have the
same example (MEM).
"""

from __future__ import annotations

from catalogue.domain.gtin import check_digit, full_gtin


def test_worked_example_of_gs1():
    assert check_digit("629104150021") == 3
    assert full_gtin("6291041500213") == "06291041500213"
