"""The reminder's distances against what is quoted in print.

Source: Escamilla-Martínez et al. 2020, Int J Environ Res Public Health, which quotes lifespans of 300 to 1000 km.
Confidence: PAGE for the quoted range. The 500 to 800 km of the reminder are common practice, no source.
"""

from fittings.domain.shoes.shoe_age import SHOE_LIFE_KM

QUOTED_KM = (300.0, 1000.0)


def test_the_reminder_is_within_the_quoted_range():
    first, last = SHOE_LIFE_KM
    assert QUOTED_KM[0] < first < last < QUOTED_KM[1]
