"""The measured shoes that a fitting chooses among: of a catalogue of any size, those that could be shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from catalogue.selectors.public.rows import ShoeRow, current_cards, shoe_rows
from core.database.sources import read_connection

IN_STORE_MOST = 200
"""Shoes in the store's own stock in the size and in the target, the nearest to its middle."""

AROUND_MOST = 60
"""Shoes on each side of the middle that serve the use and the body mass, wherever they are in stock."""

BESIDE_MOST = 30
"""Shoes on each side whatever they are made for: the reasons against them are given."""


@dataclass(frozen=True, slots=True)
class Question:
    """What a fitting asks of the catalogue; `size_eu` None for any size, `body_mass_kg` None where it sets no limit."""

    store_id: int
    low: float
    high: float
    uses: Sequence[str]
    size_eu: Decimal | None = None
    body_mass_kg: float | None = None
    asked: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Candidate:
    """A published shoe as a fitting weighs it; `here` and `sister`: the size is in stock in the store, in another."""

    shoe_id: int
    slug: str
    use: str
    is_discontinued: bool
    drop_mm: float | None
    stability: float
    stability_u: float | None
    cushioning: float
    is_borderline: bool
    is_provisional: bool
    band: str
    runner_mass_max_kg: float | None
    here: bool
    sister: bool
    stability_df: float | None
    title: str


# Each arm walks an index from the middle of the target outwards and stops early. The first one reads the score beside
# the stock, which triggers keep there for this question.
_SERVES = "shoe.use = ANY(%(uses)s) AND (band.runner_mass_max_kg >= %(mass)s) IS NOT FALSE"
_CARDS = (
    "SELECT card.id FROM catalogue_scorecard card JOIN catalogue_shoe shoe ON shoe.id = card.shoe_id"
    " JOIN catalogue_band band ON band.id = card.band_id WHERE card.is_current"
)
_UP = "card.stability >= %(middle)s"
_UP_ORDER = "ORDER BY card.stability"
_DOWN = "card.stability < %(middle)s"
_DOWN_ORDER = "ORDER BY card.stability DESC"
_ANSWER = """
WITH pool AS (
    (SELECT card.id FROM catalogue_stockitem held
     JOIN catalogue_scorecard card ON card.shoe_id = held.shoe_id AND card.is_current
     JOIN catalogue_shoe shoe ON shoe.id = card.shoe_id JOIN catalogue_band band ON band.id = card.band_id
     WHERE held.store_id = %(store)s AND held.quantity > 0{size} AND held.stability BETWEEN %(low)s AND %(high)s
     AND {serves} ORDER BY abs(held.stability - %(middle)s) LIMIT {in_store})
    UNION ({cards} AND {up} AND {serves} {up_order} LIMIT {around})
    UNION ({cards} AND {down} AND {serves} {down_order} LIMIT {around})
    UNION ({cards} AND {up} {up_order} LIMIT {beside})
    UNION ({cards} AND {down} {down_order} LIMIT {beside})
    UNION ({cards} AND shoe.slug = ANY(%(asked)s))
)
SELECT shoe.id, shoe.slug, shoe.use, shoe.is_discontinued, shoe.drop_mm, card.stability, card.stability_u,
    card.cushioning, card.is_borderline, card.is_provisional, band.name, band.runner_mass_max_kg,
    coalesce(stock.here, false), coalesce(stock.sister, false), card.stability_df,
    concat_ws(' ', brand.name, shoe.name, nullif(shoe.version, ''))
FROM pool JOIN catalogue_scorecard card ON card.id = pool.id JOIN catalogue_shoe shoe ON shoe.id = card.shoe_id
JOIN catalogue_brand brand ON brand.id = shoe.brand_id
JOIN catalogue_band band ON band.id = card.band_id
CROSS JOIN LATERAL (
    SELECT bool_or(held.store_id = %(store)s) AS here, bool_or(held.store_id <> %(store)s) AS sister
    FROM catalogue_stockitem held WHERE held.shoe_id = card.shoe_id AND held.quantity > 0{size}
) stock
ORDER BY card.stability, shoe.slug
"""


def candidates_sql(question: Question) -> tuple[str, dict[str, Any]]:
    """Return the one query that answers a question, and its parameters."""
    size = "" if question.size_eu is None else " AND held.size_eu = %(size)s"
    query = _ANSWER.format(
        size=size,
        serves=_SERVES,
        cards=_CARDS,
        up=_UP,
        down=_DOWN,
        up_order=_UP_ORDER,
        down_order=_DOWN_ORDER,
        in_store=IN_STORE_MOST,
        around=AROUND_MOST,
        beside=BESIDE_MOST,
    )
    return query, {
        "store": question.store_id,
        "size": question.size_eu,
        "low": question.low,
        "high": question.high,
        "middle": (question.low + question.high) / 2,
        "uses": list(question.uses),
        "mass": question.body_mass_kg,
        # A NUL never names a shoe, and PostgreSQL refuses to be asked.
        "asked": [slug for slug in question.asked if "\x00" not in slug],
    }


def candidates(question: Question) -> list[Candidate]:
    """Return the published shoes that could be shown, by stability: one query, however many shoes there are.

    All that the store has in the size and in the target (up to 200), the nearest to its middle that serve the person
    (up to 60 on each side), the nearest whatever they are made for (up to 30 on each side), and those asked about. A
    catalogue smaller than that comes whole.
    """
    with read_connection().cursor() as cursor:
        cursor.execute(*candidates_sql(question))
        return [Candidate(*row) for row in cursor.fetchall()]


def candidate_rows(shoe_ids: Sequence[int], *, sizes: tuple[Decimal, Decimal] | None) -> dict[int, ShoeRow]:
    """Return a few candidates with everything that is shown of them: two queries.

    Parameters
    ----------
    sizes : only stock from this size to that one
    """
    return {row.id: row for row in shoe_rows(current_cards().filter(shoe_id__in=shoe_ids), sizes=sizes)}
