"""What fittings tell the catalogue: needs of the last twelve months by band and size, without pointing at anybody."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from catalogue.selectors.stock import demand
from fittings.domain.disclosure.cell_keys import LARGEST
from fittings.domain.fitting.intake import FootIntake
from fittings.selectors.outcomes.demand import demand_for_store, shown_across_stores

TODAY = dt.date(2026, 3, 4)


def at(day):
    return timezone.make_aware(dt.datetime.combine(day, dt.time(12)))


@pytest.fixture
def fit(make_fitting, cast):
    def make(*, day=TODAY, store="a", pronation=2, **more):
        foot = FootIntake(pronation=pronation, tibial_rotation=0, rearfoot_eversion=0, length_mm=268.0)
        who = {"actor": getattr(cast, f"fitter_{store}"), "store": getattr(cast, f"store_{store}")}
        return make_fitting(at=at(day), left=foot, right=foot, history=(), **who, **more)

    return make


def test_needs_are_counted_by_the_band_of_their_centre_and_by_size(fit, cast):
    # 45 + pronation 12 is in band 2; 45 + 20 is in band 3.
    first = fit()
    fit()
    fit(pronation=3)
    found = [(cell.band, cell.size_eu, cell.own) for cell in demand_for_store(cast.store_a, TODAY)]
    assert found == [(2, first.size_eu, 2), (3, first.size_eu, 1)]


@pytest.mark.parametrize(("centre", "band"), [(49.9, 1), (50.0, 2), (60.0, 3), (79.9, 4), (80.0, 5), (93.0, 5)])
def test_limits_of_bands_belong_to_the_band_above(fit, cast, centre, band):
    from fittings.models import Fitting

    fitting = fit()
    Fitting.objects.filter(pk=fitting.pk).update(need_low=centre - 6, need_centre=centre, need_high=centre + 6)
    assert [cell.band for cell in demand_for_store(cast.store_a, TODAY)] == [band]


@pytest.mark.parametrize(
    ("day", "counts"),
    [(TODAY, 1), (dt.date(2025, 3, 5), 1), (dt.date(2025, 3, 4), 0), (TODAY + dt.timedelta(days=1), 0)],
)
def test_twelve_months_count(fit, cast, day, counts):
    fit(day=day)
    assert sum(cell.own for cell in demand_for_store(cast.store_a, TODAY)) == counts


def test_leap_day_has_a_year_before(fit, cast):
    fit(day=dt.date(2028, 2, 29))
    assert sum(cell.own for cell in demand_for_store(cast.store_a, dt.date(2028, 2, 29))) == 1


def test_people_who_did_not_agree_are_not_counted(fit, cast):
    fit(consent=False)
    assert demand_for_store(cast.store_a, TODAY) == []


@pytest.mark.parametrize(
    ("own", "everywhere", "shown"),
    [
        (0, 0, 0),
        (3, 3, None),
        (5, 5, 5),
        (4, 4, None),
        (5, 9, None),
        (5, 10, 10),
        (0, 5, 5),
        (0, 4, None),
        (6, 7, None),
    ],
)
def test_few_people_are_hidden_also_by_subtraction(own, everywhere, shown):
    assert shown_across_stores(own, everywhere) == shown


BEFORE = dt.date(2026, 2, 27)


def test_own_numbers_are_shown_however_few(fit, cast, without_noise):
    fit(day=BEFORE)
    for _ in range(5):
        fit(day=BEFORE, store="b")
    (cell,) = demand_for_store(cast.store_a, TODAY)
    assert (cell.own, cell.practice) == (1, 6)
    (cell,) = demand_for_store(cast.store_b, TODAY)
    assert (cell.own, cell.practice) == (5, None)


def test_other_stores_count_by_whole_months_and_with_noise(fit, cast):
    for _ in range(9):
        fit(day=BEFORE, store="b")
    (before,) = demand_for_store(cast.store_a, TODAY)
    fit(store="b")
    assert demand_for_store(cast.store_a, TODAY) == [before]
    assert before.practice is None or abs(before.practice - 9) <= LARGEST


def test_all_stores_are_counted_though_only_the_own_one_is_in_scope(fit, cast, without_noise):
    from core.gate import row_scope

    for _ in range(5):
        fit(day=BEFORE, store="b")
    with row_scope.stores([cast.store_a.pk]):
        (cell,) = demand_for_store(cast.store_a, TODAY)
    assert (cell.own, cell.practice) == (0, 5)


def test_page_of_the_catalogue_shows_it(fit, cast, sign_in, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_, **__: TODAY)
    fit()
    page = sign_in(cast.manager_a).get("/wall/gaps/store-a/").content.decode()
    assert "1 fitting here in the last twelve months" in page
    assert "Needed more often than there are pairs" in page


def test_catalogue_asks_this_app():
    assert demand_for_store in demand._sources
