"""A million follow-ups: recurrence-free time with limits, log-rank, rates and their ratio.

Floors: lifelines on the same people in the same run, which the results must equal to 1e-9; and for the page's
computing its SQL alone, sent and fetched. Run with ``python -m bench.outcomes``; ``--follow-ups 40000`` is quicker.
"""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Callable
from typing import Any

import numpy as np

from bench.measure import Line, interleave, open_practice, report

ON = dt.date(2026, 11, 1)
FASTER, PAGE_RATIO, PAGE_MS, EQUAL = 10.0, 2.0, 2000.0, 1e-9

# Invented courses: a fifth outside the target, most with a complaint that settled, some who never answer or leave out
# a question; one in seven has a second fitting.
PEOPLE = """
INSERT INTO fittings_customer (store_id, name, email, phone, created_at, link_nonce)
SELECT %(store)s + n %% %(stores)s, 'Customer ' || n, '', '', now(), '' FROM generate_series(1, %(people)s * 7 / 8) n;
INSERT INTO fittings_fitting (store_id, fitter_id, at, kept, customer_id, use, body_mass_kg, distance_km_week,
    stop_signs, cushioning_wish, rules_id, need_centre, need_low, need_high, need_contributions,
    need_left_out, link_nonce)
SELECT store_id, %(user)s, timestamptz '2025-01-01 12:00+00' + (id %% 420 + 120 * later) * interval '1 day', true, id,
    'running', 55 + id %% 45, 10 + id %% 50, '{}', '', %(rules)s, 60, 54, 66, '[]', '{}', ''
FROM fittings_customer CROSS JOIN generate_series(0, 1) later WHERE later = 0 OR id %% 7 = 0;
INSERT INTO fittings_historyitem (fitting_id, region, side, now, settled_on)
SELECT id, 'heel', 'left', id %% 9 = 0, NULL FROM fittings_fitting WHERE customer_id %% 10 < 7;
INSERT INTO fittings_choice (fitting_id, shoe_id, score_card_id, size_eu, reason, stability, in_target, probability, at)
SELECT fitting.id, card.shoe_id, card.id, 42, 'bench', card.stability, fitting.id %% 5 > 0, NULL, fitting.at
FROM fittings_fitting fitting JOIN (SELECT row_number() OVER (ORDER BY id) - 1 AS place, count(*) OVER () AS n, *
    FROM catalogue_scorecard) card ON card.place = fitting.id %% card.n;
INSERT INTO fittings_followup (fitting_id, weeks, due_on, answered_at, wearing, distance_km_week, comfort, recurrence,
    recurrence_reasoning, nothing_hurts, reminders)
SELECT asked.id, weeks, (at + weeks * interval '7 days')::date, answered,
    CASE WHEN answered IS NULL THEN NULL ELSE true END,
    CASE WHEN answered IS NULL OR draw > 0.98 THEN NULL ELSE 10 + asked.id %% 40 END,
    CASE WHEN answered IS NULL THEN NULL ELSE 7 END,
    CASE WHEN answered IS NOT NULL AND draw < 0.05 THEN 'early' ELSE '' END, '',
    CASE WHEN answered IS NULL OR draw > 0.95 THEN NULL ELSE draw > 0.05 END, 0
FROM (SELECT fitting.id, fitting.at, weeks, random() AS draw, CASE WHEN random() < 0.8
        THEN fitting.at + weeks * interval '7 days' + floor(random() * 10) * interval '1 day' END AS answered
      FROM fittings_fitting fitting, unnest(%(weeks)s::int[]) weeks) asked;
INSERT INTO fittings_painreport (follow_up_id, region, side, score)
SELECT id, 'heel', 'left', 1 + id %% 10 FROM fittings_followup WHERE nothing_hurts = false;
"""


def make_practice(follow_ups: int, stores: int) -> None:
    """Fill the database by SQL alone."""
    from django.db import connection

    from bench.fitting import SHOES
    from core.database.roles import as_owner
    from core.models import Store, User
    from fittings.models import NeedRules
    from fittings.selectors.outcomes.courses import MARK_WEEKS

    made = Store.objects.bulk_create(Store(slug=f"store-{n}", name=f"Store {n}") for n in range(stores))
    user, rules = User.objects.create(username="bench"), NeedRules.objects.get(is_current=True)
    with as_owner(), connection.cursor() as cursor:
        cursor.execute("SET session_replication_role = replica; SELECT setseed(0.5)")
        cursor.execute(SHOES, {"shoes": 200, "user": user.pk})
        given = {"store": made[0].pk, "stores": stores, "people": follow_ups // 4, "user": user.pk, "rules": rules.pk}
        given["weeks"] = list(MARK_WEEKS)
        cursor.execute(PEOPLE, given)
        # What the triggers keep row by row, in one go.
        cursor.execute("ANALYZE")
        cursor.execute("SELECT fittings_courses_refresh(ARRAY(SELECT fitting_id FROM fittings_choice), 'UTC')")
        cursor.execute("SET session_replication_role = origin")
        cursor.execute("VACUUM ANALYZE")


def whole_page(role: str) -> Callable[[], object]:
    """The page as somebody of a role asks for it: the gate, the filters' choices, the drawings and all."""
    from django.test import Client

    from core.models import Membership, Store, User

    user, is_new = User.objects.get_or_create(username=f"bench-{role}")
    if is_new:
        Membership.objects.create(user=user, role=role, store=None if role == "office" else Store.objects.first())
    client = Client()
    client.force_login(user, "core.accounts.authentication.PracticeBackend")

    def ask() -> object:
        answer = client.get("/outcomes/")
        if answer.status_code != 200:
            raise RuntimeError(f"The page answered {answer.status_code}.")
        return answer

    return ask


def page_lines(rounds: int) -> list[Line]:
    """The page's computing beside the same SQL alone, and the whole page for head office and one store's manager."""
    from django.core.management import call_command

    from core.gate import row_scope
    from core.models import Store
    from fittings.selectors.outcomes.courses import by_day_sql, counts_of, people_sql, rows_of
    from fittings.selectors.outcomes.outcomes import Scope, finish, group_names

    scope = Scope(tuple(Store.objects.all()), hides=False)
    queries = [sql(scope.filter(), "target", on=ON) for sql in (people_sql, by_day_sql)]
    names = group_names("target", scope)

    def page() -> object:
        return finish(counts_of(scope.filter(), "target", on=ON), names, scope, compares=True)

    # As head office reads it: the figures of all stores, through the same row-level security for both.
    with row_scope.figures():
        times = interleave({"sql": lambda: [rows_of(*query) for query in queries], "page": page}, rounds=rounds)
    call_command("collectstatic", interactive=False, verbosity=0)
    pages = interleave({role: whole_page(role) for role in ("office", "manager")}, rounds=rounds)
    floor, ours = times["sql"].median, times["page"].median
    whole = [(f"the page, asked by {role}", 1000 * timing.median) for role, timing in pages.items()]
    return [
        Line("SQL that adds up people and days, alone", 1000 * floor, "ms"),
        Line(
            "the page's computing", 1000 * ours, "ms", ours / floor, f"<= {PAGE_RATIO:g} x", ours <= PAGE_RATIO * floor
        ),
        *(Line(name, ms, "ms", None, f"<= {PAGE_MS:g} ms", ms <= PAGE_MS) for name, ms in whole),
    ]


Group = tuple[Any, Any]


def made_up(people: int) -> tuple[Group, Group]:
    """Two groups, of as many people as there are follow-ups: days at risk, and whether a recurrence ended them."""
    draw = np.random.default_rng(20261125)
    outside = draw.random(people) < 0.2
    until = draw.exponential(np.where(outside, 300.0, 450.0)).astype(np.int64) + 1
    watched = draw.integers(14, 200, people)
    days, event = np.minimum(until, watched), until <= watched
    return (days[~outside], event[~outside]), (days[outside], event[outside])


def ours(groups: tuple[Group, Group]) -> dict[str, Any]:
    """Curves with limits, log-rank, mean times, rates and their ratio."""
    from fittings.domain.outcomes.comparisons import rate_ratio
    from fittings.domain.outcomes.rates import rate_per_1000_km
    from fittings.domain.outcomes.restricted_mean import restricted_mean
    from fittings.domain.outcomes.survival import curve_of, life_table, log_rank_of

    tables = [life_table(*group) for group in groups]
    curves = [curve_of(table) for table in tables]
    rates = [
        rate_per_1000_km(curve.events_total, 4.0 * float(t.left @ t.time))
        for curve, t in zip(curves, tables, strict=True)
    ]
    first, second = rates
    return {
        "curves": curves,
        "test": log_rank_of(tables),
        "means": [restricted_mean(curve, 180.0) for curve in curves],
        "rates": rates,
        "ratio": rate_ratio((first.events, second.events), (first.exposure_km, second.exposure_km)),
    }


def theirs(groups: tuple[Group, Group]) -> dict[str, Any]:
    """The same curves and test by lifelines; it has no exact rates to be timed."""
    from lifelines import KaplanMeierFitter
    from lifelines.statistics import logrank_test

    return {
        "curves": [KaplanMeierFitter().fit(*group) for group in groups],
        "test": logrank_test(groups[0][0], groups[1][0], groups[0][1], groups[1][1]),
    }


def largest_difference(mine: dict[str, Any], other: dict[str, Any]) -> float:
    """The largest difference of survival, of the log-log limits, and (relative) of the test's chi-squared."""
    found = [abs(mine["test"].chi_squared / other["test"].test_statistic - 1)]
    for curve, fitter in zip(mine["curves"], other["curves"], strict=True):
        band = fitter.confidence_interval_.loc[curve.time]
        found.append(
            np.nanmax(np.abs(curve.survival - fitter.survival_function_.loc[curve.time].iloc[:, 0].to_numpy()))
        )
        # Our own limits are beta products; these are from our standard error as the other program makes them.
        log_survival = np.log(curve.survival)
        reach = 1.959963984540054 * curve.standard_error / curve.survival / log_survival
        found += [
            np.nanmax(np.abs(curve.survival ** np.exp(sign * reach) - band.iloc[:, at].to_numpy()))
            for at, sign in enumerate((-1.0, 1.0))
        ]
    return float(max(found))


def reference_lines(people: int, rounds: int) -> list[Line]:
    groups = made_up(people)
    contestants: dict[str, Callable[[], object]] = {"ours": lambda: ours(groups), "theirs": lambda: theirs(groups)}
    times = interleave(contestants, rounds=rounds)
    apart = largest_difference(ours(groups), theirs(groups))
    ratio = times["theirs"].median / times["ours"].median
    return [
        Line("lifelines: curves with bands, log-rank", 1000 * times["theirs"].median, "ms"),
        Line(
            "the same with rates, their ratio and mean times",
            1000 * times["ours"].median,
            "ms",
            ratio,
            f">= {FASTER:g} x faster",
            ratio >= FASTER,
        ),
        Line("largest difference between them", apart, "", None, f"<= {EQUAL:g}", apart <= EQUAL),
    ]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--follow-ups", type=int, default=1_000_000)
    parser.add_argument("--stores", type=int, default=50)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--keep", action="store_true", help="use the practice that an earlier run made")
    options = parser.parse_args()
    open_practice("outcomes", keep=options.keep)
    if not options.keep:
        make_practice(options.follow_ups, options.stores)
    report(f"{options.follow_ups:,} people, whole days", reference_lines(options.follow_ups, options.rounds))
    report(f"Outcomes' page: {options.follow_ups:,} follow-ups, {options.stores} stores", page_lines(options.rounds))


if __name__ == "__main__":
    main()
