"""Shoes in use: what their wearers report, against the wearers of all shoes of the same band. No person is shown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from core.gate import row_scope
from core.models import Store
from fittings.domain.outcomes.cell_keys import VARIANCE
from fittings.domain.outcomes.shrinkage import shrink_means, shrink_rates
from fittings.selectors import noise
from fittings.selectors.courses import OutcomeFilter, courses_sql, rows_of

PEOPLE_LEAST = 10
"""Nothing is said of a shoe from fewer wearers than this."""

NOISE_POINTS = 2.5
"""Comfort, in points, that the noise of one person adds to a shoe's sum."""


@dataclass(frozen=True, slots=True)
class Against:
    """A value against its band's, drawn in, with its interval. `worse`: the interval lies wholly on the bad side.

    Where the shoes differ by no more than chance, all are drawn in to the band's value and the interval has no width.
    """

    people: int
    raw: float
    shrunk: float
    low: float
    high: float
    worse: bool


@dataclass(frozen=True, slots=True)
class ShoeInUse:
    """One shoe: comfort as difference from its band's mean, recurrences as ratio to what its band's rate expects."""

    slug: str
    title: str
    band: int
    band_name: str
    comfort: Against | None
    recurrence: Against | None

    @property
    def worse(self) -> bool:
        return any(item is not None and item.worse for item in (self.comfort, self.recurrence))


@dataclass(frozen=True, slots=True)
class _Sums:
    """What is added up of one shoe in one band, with noise; recurrences and km are of people whose km are known."""

    shoe_id: int
    slug: str
    brand: str
    name: str
    version: str
    band: int
    band_name: str
    people: int
    comfort: float
    comfort_squares: float
    at_risk: int
    recurred: int
    km: float

    @property
    def mean(self) -> float:
        return self.comfort / self.people


_BY_SHOE = """, worn AS (
    SELECT fitting_id, avg(comfort) AS comfort FROM fittings_followup
    WHERE answered_at IS NOT NULL AND comfort IS NOT NULL AND wearing IS NOT FALSE GROUP BY fitting_id
)
SELECT shoe.id, shoe.slug, brand.name, shoe.name, shoe.version, course.band, course.band_name, count(worn.comfort),
    coalesce(sum(worn.comfort), 0)::float8, coalesce(sum(worn.comfort ^ 2), 0)::float8, count(course.km),
    count(*) FILTER (WHERE course.recurred AND course.km IS NOT NULL), coalesce(sum(course.km), 0)::float8,
    sum(keyed.record_key) FILTER (WHERE worn.comfort IS NOT NULL),
    sum(keyed.record_key) FILTER (WHERE course.km IS NOT NULL),
    sum(keyed.record_key) FILTER (WHERE course.recurred AND course.km IS NOT NULL)
FROM course JOIN (
    SELECT id, hashint8extended(customer_id, %(seed)s) AS record_key FROM fittings_fitting
) keyed ON keyed.id = course.fitting_id
JOIN catalogue_shoe shoe ON shoe.id = course.shoe_id JOIN catalogue_brand brand ON brand.id = shoe.brand_id
LEFT JOIN worn ON worn.fitting_id = course.fitting_id
GROUP BY shoe.id, brand.id, course.band, course.band_name ORDER BY course.band, shoe.slug
"""


def shoes_in_use(*, on: dt.date) -> list[ShoeInUse]:
    """Every shoe with enough wearers over all stores, by band: two queries.

    Comfort is a person's mean over the follow-ups at which they still wore the shoe. A shoe is named worse where its
    95 % interval, drawn in towards the others, lies wholly below its band's comfort or above its band's recurrences.
    """
    stores = tuple(Store.objects.values_list("pk", flat=True))
    query, parameters = courses_sql(OutcomeFilter(stores), _BY_SHOE, on=on)
    with row_scope.figures():
        sums = [_with_noise(row) for row in rows_of(query, parameters | {"seed": noise.record_seed()})]
    comfort, recurrence = _comfort(sums), _recurrence(sums)
    shoes = [
        ShoeInUse(
            slug=item.slug,
            title=f"{item.brand} {item.name} {item.version}".rstrip(),
            band=item.band,
            band_name=item.band_name,
            comfort=comfort.get((item.shoe_id, item.band)),
            recurrence=recurrence.get((item.shoe_id, item.band)),
        )
        for item in sums
    ]
    return [shoe for shoe in shoes if shoe.comfort or shoe.recurrence]


def _with_noise(row: Sequence[Any]) -> _Sums:
    """A row with noise on its counts, and with it on the sums: a mean that is exact would give its count away."""
    people, comfort, squares, at_risk, recurred, km, worn_keys, km_keys, recurred_keys = row[7:]
    shown, watched = noise.noisy(people, worn_keys), noise.noisy(at_risk, km_keys)
    mean, apart = (comfort / people if people else 0.0), shown - people
    # Squares about the new mean stay what they were about the old one, so that the spread is not changed.
    moved = mean + apart * NOISE_POINTS / people if people else 0.0
    spread = max(0.0, squares - people * mean**2) * (shown / people if people else 0.0)
    events = min(watched, noise.noisy(recurred, int(recurred_keys or 0) + int(km_keys or 0)))
    distance = km * watched / at_risk if at_risk else 0.0
    sums: list[Any] = [shown, moved * shown, spread + shown * moved**2, watched, events, distance]
    return _Sums(*[*row[:7], *sums])


Place = tuple[int, int]


def _comfort(sums: Sequence[_Sums]) -> dict[Place, Against]:
    worn = [item for item in sums if item.people]
    freedom = sum(item.people - 1 for item in worn)
    if freedom < 1:
        return {}
    spare = sum(item.comfort_squares - item.people * item.mean**2 for item in worn)
    # Answers are whole numbers: where all are alike, less than their step is still not known.
    within = max(spare / freedom, 1 / 12)
    centre = {
        band: sum(item.comfort for item in worn if item.band == band)
        / sum(item.people for item in worn if item.band == band)
        for band in {item.band for item in worn}
    }
    enough = [item for item in worn if item.people >= PEOPLE_LEAST]
    if not enough:
        return {}
    raw = np.array([item.mean - centre[item.band] for item in enough])
    people = [item.people for item in enough]
    shrunk = shrink_means(raw, np.array([within / n + VARIANCE * (NOISE_POINTS / n) ** 2 for n in people]), centre=0.0)
    return {
        (item.shoe_id, item.band): Against(item.people, float(r), float(v), float(low), float(high), worse=high < 0)
        for item, r, v, low, high in zip(enough, raw, shrunk.value, shrunk.low, shrunk.high, strict=True)
    }


def _recurrence(sums: Sequence[_Sums]) -> dict[Place, Against]:
    enough = [item for item in sums if item.at_risk >= PEOPLE_LEAST and _expected(item, sums) > 0]
    if not enough:
        return {}
    expected = np.array([_expected(item, sums) for item in enough])
    events = np.array([item.recurred for item in enough], dtype=np.float64)
    shrunk = shrink_rates(events, expected, centre=1.0)
    rows = zip(enough, events / expected, shrunk.value, shrunk.low, shrunk.high, strict=True)
    return {
        (item.shoe_id, item.band): Against(item.at_risk, float(r), float(v), float(low), float(high), worse=low > 1)
        for item, r, v, low, high in rows
    }


def _expected(item: _Sums, sums: Sequence[_Sums]) -> float:
    """Recurrences that the shoe's wearers would have had at the rate of all shoes of its band."""
    alike = [other for other in sums if other.band == item.band]
    km = sum(other.km for other in alike)
    return item.km * sum(other.recurred for other in alike) / km if km else 0.0
