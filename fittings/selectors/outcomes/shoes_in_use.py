"""Shoes in use: what their wearers report, against the wearers of all shoes of the same band. No person is shown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from core.gate import row_scope
from core.models import Store
from fittings.domain.disclosure.cell_keys import VARIANCE
from fittings.domain.outcomes.shrinkage import shrink_means, shrink_rates
from fittings.selectors.outcomes import noise
from fittings.selectors.outcomes.courses import OutcomeFilter, courses_sql, rows_of

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


# Comfort is one value a person and shoe, however many fittings; a complaint has one course, whatever else hurt.
_BY_SHOE = """, answer AS (
    SELECT customer_id, shoe_id, band, avg(follow.comfort) AS comfort,
        hashint8extended(customer_id, %(seed)s) AS record_key
    FROM (SELECT DISTINCT customer_id, shoe_id, band, fitting_id, choice_id FROM course) worn
    JOIN fittings_followup follow
        ON follow.fitting_id = worn.fitting_id AND coalesce(follow.choice_id, worn.choice_id) = worn.choice_id
    WHERE answered_at IS NOT NULL AND comfort IS NOT NULL AND wearing IS NOT FALSE GROUP BY customer_id, shoe_id, band
), comfort AS (
    SELECT shoe_id, band, count(*) AS people, sum(comfort)::float8 AS total, sum(comfort ^ 2)::float8 AS squares,
        sum(record_key) AS keys
    FROM answer GROUP BY shoe_id, band
), wearer AS (
    SELECT shoe_id, band, band_name, hashint8extended(customer_id, %(seed)s) AS record_key, sum(km) AS km,
        count(*) FILTER (WHERE recurred AND km IS NOT NULL) AS recurred
    FROM course GROUP BY shoe_id, band, band_name, customer_id
), sums AS (
    SELECT shoe_id, band, band_name, count(km) AS at_risk, coalesce(sum(recurred), 0)::bigint AS recurred,
        coalesce(sum(km), 0)::float8 AS km, sum(record_key) FILTER (WHERE km IS NOT NULL) AS km_keys,
        sum(record_key * recurred::numeric) AS recurred_keys, greatest(max(recurred), 1) AS most
    FROM wearer GROUP BY shoe_id, band, band_name
)
SELECT shoe.id, shoe.slug, brand.name, shoe.name, shoe.version, band, band_name, coalesce(people, 0),
    coalesce(total, 0), coalesce(squares, 0), at_risk, recurred, km, keys, km_keys, recurred_keys, most
FROM sums LEFT JOIN comfort USING (shoe_id, band)
JOIN catalogue_shoe shoe ON shoe.id = sums.shoe_id JOIN catalogue_brand brand ON brand.id = shoe.brand_id
ORDER BY band, shoe.slug
"""


def shoes_in_use(*, on: dt.date) -> list[ShoeInUse]:
    """Every shoe with enough wearers over all stores, by band: two queries.

    Comfort is a person's mean over the follow-ups at which they still wore the shoe. A shoe is flagged where its
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
    people, comfort, squares, at_risk, recurred, km, worn_keys, km_keys, recurred_keys, most = row[7:]
    shown, watched = noise.noisy(people, worn_keys), noise.noisy(at_risk, km_keys)
    mean, apart = (comfort / people if people else 0.0), shown - people
    # Squares about the new mean stay what they were about the old one, so that the spread is not changed.
    moved = mean + apart * NOISE_POINTS / people if people else 0.0
    spread = max(0.0, squares - people * mean**2) * (shown / people if people else 0.0)
    # One person may have several recurrences, and the noise of a person is as many.
    events = max(0, recurred + most * (noise.noisy(recurred, int(recurred_keys or 0) + int(km_keys or 0)) - recurred))
    distance = km * watched / at_risk if at_risk else 0.0
    sums: list[Any] = [shown, moved * shown, spread + shown * moved**2, watched, min(events, most * watched), distance]
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
