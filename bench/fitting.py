"""Recommendations in a practice of 500 stores with 100,000 measured shoes and 5,000,000 lines of stock.

Floor: the same SQL for the same candidates, sent and fetched by the same connection in the same run, with nothing made
of it. Run with ``python -m bench.fitting``; ``--shoes 2000 --stores 20`` is a quick look.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import numpy as np

from bench.measure import Line, indexes_afterwards, open_practice, percentile, report

LINES_A_STORE = 10_000
SIZES_A_SHOE = 10
TARGET_RATIO = 3.0

SHOES = """
INSERT INTO catalogue_brand (slug, name) SELECT 'brand-' || n, 'Brand ' || n FROM generate_series(1, 40) n;
INSERT INTO catalogue_shoe (slug, brand_id, name, version, use, mass_g, stack_heel_mm, stack_forefoot_mm,
    is_discontinued, wearer, widths, season, list_prices, note, alternative_names)
SELECT 'shoe-' || n, (SELECT min(id) FROM catalogue_brand) + n %% 40, 'Shoe ' || n, '1',
    (ARRAY['running', 'running', 'walking', 'standing'])[1 + n %% 4], 200 + n %% 150, 24 + n %% 14, 20 + n %% 9, false,
    'all', '{}', '', '{}', '', '{}'
FROM generate_series(1, %(shoes)s) n;
INSERT INTO catalogue_scorecard (shoe_id, scale_id, band_id, stability, midfoot, rearfoot, cushioning, stability_u,
    cushioning_estimated, is_borderline, is_provisional, specimens, tested_on, scoring_model, protocol, is_current,
    published_at, published_by_id, reason, withdrawn_because)
SELECT card.id, card.scale_id, band.id, card.stability, card.stability, card.stability, 40 + card.id %% 40,
    0.8 + (card.id %% 13) / 10.0, false, card.id %% 9 = 0, card.id %% 11 = 0, 2, date '2026-01-01', 'S1', 'P1', true,
    now(), %(user)s, 'bench', ''
FROM (SELECT shoe.id, scale.id AS scale_id, 62 + 11 * sqrt(-2 * ln(1 - random())) * cos(2 * pi() * random())
    AS stability FROM catalogue_shoe shoe, catalogue_scale scale WHERE scale.version = 'S1') card
JOIN catalogue_band band ON band.scale_id = card.scale_id AND card.stability >= coalesce(band.lower, '-infinity')
    AND card.stability < coalesce(band.upper, 'infinity');
"""

# Each store holds ten sizes each of some shoes; which ones differs from store to store.
STOCK = """
INSERT INTO catalogue_stockitem (store_id, shoe_id, size_eu, quantity, stability)
SELECT line.store_id, card.shoe_id, line.size_eu, line.quantity, card.stability
FROM (SELECT store.id AS store_id,
        first.shoe + ((n / %(sizes)s) * 7919 + store.id * 104729) %% %(shoes)s AS shoe_id,
        36 + 0.5 * ((n %% %(sizes)s) * 2 + (n / %(sizes)s + store.id) %% 5) AS size_eu,
        (n * 31 + store.id) %% 4 AS quantity
      FROM core_store store, generate_series(0, %(lines)s - 1) n,
        (SELECT min(id) AS shoe FROM catalogue_shoe) first) line
JOIN catalogue_scorecard card ON card.shoe_id = line.shoe_id AND card.is_current;
"""


def make_practice(shoes: int, stores: int, lines: int) -> int:
    """Fill the database by SQL alone; answer how many lines of stock there are."""
    from django.db import connection

    from catalogue.models import StockItem
    from core.database.roles import as_owner
    from core.models import Store, User

    Store.objects.bulk_create(Store(slug=f"store-{n}", name=f"Store {n}") for n in range(stores))
    user = User.objects.create(username="bench")
    with as_owner(), connection.cursor() as cursor:
        # What the triggers would do line by line is done by the statements themselves.
        cursor.execute("SET session_replication_role = replica; SELECT setseed(0.5)")
        cursor.execute(SHOES, {"shoes": shoes, "user": user.pk})
        cursor.execute("ANALYZE")
        with indexes_afterwards(cursor, "catalogue_stockitem"):
            cursor.execute(STOCK, {"shoes": shoes, "lines": min(lines, shoes * SIZES_A_SHOE), "sizes": SIZES_A_SHOE})
        cursor.execute("SET session_replication_role = origin")
        cursor.execute("VACUUM ANALYZE")
    return StockItem.objects.count()


def make_requests(count: int) -> list[Any]:
    """Make customers of different needs, sizes and stores."""
    from core.models import Store
    from fittings.domain.fitting.need import Need
    from fittings.selectors.fitting.recommendations import Request

    draw = np.random.default_rng(20261125)
    stores = list(Store.objects.all())
    found = []
    for _ in range(count):
        centre, half = float(draw.uniform(45, 85)), float(draw.choice([6, 8, 10, 12]))
        found.append(
            Request(
                need=Need("N1", centre, centre - half, centre + half, (), ()),
                store=stores[int(draw.integers(len(stores)))],
                use=str(draw.choice(["running", "running", "walking", "standing"])),
                body_mass_kg=float(draw.uniform(50, 105)),
                size_eu=Decimal(72 + int(draw.integers(0, 23))) / 2,
                current_slug=None,
                current_drop_mm=8.0,
                cushioning=str(draw.choice(["", "more", "less"])),
            )
        )
    return found


def bare_statements(request: Any) -> list[str]:
    """The statements that a recommendation sends, as text."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from fittings.selectors.fitting.recommendations import recommend

    with CaptureQueriesContext(connection) as sent:
        recommend(request)
    return [query["sql"].replace("%", "%%") for query in sent.captured_queries]


def timed(run: Callable[[], object]) -> float:
    begin = time.perf_counter()
    run()
    return time.perf_counter() - begin


def measure(requests: list[Any], rounds: int) -> tuple[list[float], list[float], int]:
    """Time every request once a round, bare and whole, one after the other."""
    from django.db import connection

    from fittings.selectors.fitting.recommendations import recommend

    def fetch(statements: list[str]) -> None:
        with connection.cursor() as cursor:
            for statement in statements:
                cursor.execute(statement, ())
                cursor.fetchall()

    plans = [(request, bare_statements(request)) for request in requests]
    whole, bare, shown = [], [], 0
    for turn in range(rounds + 1):
        for request, statements in plans:
            one, other = timed(lambda: fetch(statements)), timed(lambda: recommend(request))  # noqa: B023  run at once
            if turn:
                bare.append(one)
                whole.append(other)
    shown = sum(len(recommend(request).results) for request in requests)
    return whole, bare, shown


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shoes", type=int, default=100_000)
    parser.add_argument("--stores", type=int, default=500)
    parser.add_argument("--lines", type=int, default=LINES_A_STORE, help="of stock in each store")
    parser.add_argument("--requests", type=int, default=100)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--keep", action="store_true", help="use the practice that an earlier run made")
    options = parser.parse_args()
    open_practice("fitting", keep=options.keep)
    from catalogue.models import StockItem

    stock = StockItem.objects.count() if options.keep else make_practice(options.shoes, options.stores, options.lines)
    whole, bare, shown = measure(make_requests(options.requests), options.rounds)
    title = (
        f"Recommendations: {options.shoes:,} shoes, {options.stores:,} stores, {stock:,} lines of stock; {shown} shown"
    )
    lines = []
    for name, share in (("median", 0.5), ("p95", 0.95)):
        ours, floor = (1000 * percentile(seconds, share) for seconds in (whole, bare))
        goal = (f"<= {TARGET_RATIO:g} x", ours <= TARGET_RATIO * floor) if name == "p95" else ("", None)
        lines.append(Line(f"bare SQL, {name}", floor, "ms"))
        lines.append(Line(f"recommendation, {name}", ours, "ms", ours / floor, *goal))
    report(title, lines)


if __name__ == "__main__":
    main()
