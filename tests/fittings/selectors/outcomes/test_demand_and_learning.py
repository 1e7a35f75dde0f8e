"""Demand against stock, and shoes in use."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from catalogue.selectors import band_list
from fittings.domain.disclosure.cell_keys import LARGEST
from fittings.domain.fitting.intake import FollowUpAnswer, FootIntake
from fittings.domain.people.recurrence import Pain
from fittings.presentation.outcomes.demand import demand_csv_rows
from fittings.selectors.outcomes.demand import DemandCell, demand_across, demand_over
from fittings.selectors.outcomes.shoes_in_use import shoes_in_use
from fittings.services import follow_up_answer

TODAY = dt.date(2026, 6, 1)


def ago(**span):
    return timezone.now() - dt.timedelta(**span)


def band_name(order):
    return next(band.name for band in band_list() if band.order == order)


def test_targets_are_counted_by_band_and_size_beside_the_pairs(
    cast, make_fitting, make_shoe, django_assert_max_num_queries
):
    make_fitting()
    make_fitting(name="Bea", left=FootIntake(length_mm=262.0), right=FootIntake())
    make_fitting(name="Cem", left=FootIntake(pronation=0), right=FootIntake())
    make_fitting(name="Dia", actor=cast.fitter_b, store=cast.store_b)
    make_shoe("medium", 65.0, stock={cast.store_a: ["42.5", "43"], cast.store_b: ["42.5"]})
    make_shoe("hidden", 65.0, stock={cast.store_a: ["42.5"]}, published=False)
    since = (timezone.now() - dt.timedelta(days=365)).date()
    with django_assert_max_num_queries(6):
        found = demand_over([cast.store_a], since)
    assert found == [
        DemandCell(2, Decimal("41.5"), 1, 0),
        DemandCell(3, Decimal("42.5"), 1, 1),
        DemandCell(3, Decimal("43.0"), 0, 1),
    ]
    everywhere = {(cell.band, cell.size_eu): cell for cell in demand_over([cast.store_a, cast.store_b], since)}
    assert everywhere[3, Decimal("42.5")] == DemandCell(3, Decimal("42.5"), 2, 2)
    assert demand_over([cast.store_a], timezone.localdate() + dt.timedelta(days=1))[0].targets == 0


def test_demand_page_shows_own_store_and_hides_across(cast, sign_in, make_fitting, make_shoe):
    make_shoe("medium", 65.0, stock={cast.store_a: ["42.5"]})
    for number in range(7):
        make_fitting(name=f"Person {number}", email="")
    page = sign_in(cast.manager_a).get("/outcomes/demand/").content.decode()
    assert "7 / 1" in page
    assert f"{band_name(3)}, EU 42.5: 7 targets, 1\xa0pair" in page.replace("1 pair", "1\xa0pair")
    table = sign_in(cast.manager_a).get("/outcomes/demand/?as=csv").getvalue().decode().splitlines()
    assert f"{band_name(3)},42.5,7,1" in table
    across = sign_in(cast.office).get("/outcomes/demand/?as=csv").getvalue().decode().splitlines()
    assert f"{band_name(2)},42 to under 44,hidden,0" in across


def test_demand_of_all_stores_is_of_whole_months_and_has_noise(cast, make_fitting):
    month = timezone.localdate().replace(day=1)
    for number in range(30):
        make_fitting(name=f"Person {number}", email="", at=ago(weeks=20))
    make_fitting(name="New", email="")
    (cell,) = demand_across([cast.store_a], month)
    assert cell.size_eu == 42
    assert abs(cell.targets - 30) <= LARGEST


def test_sizes_are_told_together_where_stores_are_added_up(db):
    bands = band_list()
    cells = [DemandCell(band.order, Decimal(size), 3, 1) for band in bands for size in ("42", "43.5")]
    assert [band_name(2), "42 to under 44", 6, 2] in demand_csv_rows(cells, bands, hides=True)
    assert [band_name(2), "43.5", 3, 1] in demand_csv_rows(cells, bands, hides=False)


def test_nothing_to_set_against_each_other_is_said(cast, sign_in):
    assert b"Nothing to compare" in sign_in(cast.manager_a).get("/outcomes/demand/").content


@pytest.fixture
def worn(chosen):
    """Return a function that makes wearers of a shoe: how comfortable they found it, and who had a recurrence."""

    def make(slug, comforts, recurred=0):
        at = ago(weeks=8)
        for number, comfort in enumerate(comforts):
            fitting = chosen(at=at, slug=slug, name=f"{slug} {number}", email="")
            pains = (Pain("heel", "left", 4),) if number < recurred else ()
            follow_up_answer(
                actor=None,
                follow_up=fitting.follow_ups.get(weeks=2),
                answer=FollowUpAnswer(
                    wearing=True, distance_km_week=20.0, comfort=comfort, pain=pains, nothing_hurts=not pains
                ),
                at=at + dt.timedelta(weeks=2),
            )

    return make


def test_shoe_worse_than_its_band_is_named_and_few_wearers_are_not_shown(
    worn, cast, without_noise, django_assert_num_queries
):
    worn("fine", [8, 9, 8, 9, 8, 9, 8, 9, 8, 9, 8, 9])
    worn("poor", [4, 5, 4, 5, 4, 5, 4, 5, 4, 5, 4, 5], recurred=10)
    worn("rare", [1, 1, 1])
    with django_assert_num_queries(2):
        found = {shoe.slug: shoe for shoe in shoes_in_use(on=timezone.localdate())}
    assert set(found) == {"fine", "poor"}
    poor, fine = found["poor"], found["fine"]
    assert (poor.comfort.people, poor.recurrence.people) == (12, 12)
    assert poor.comfort.worse
    assert poor.recurrence.raw > 1 > fine.recurrence.raw
    assert not fine.worse
    assert abs(poor.comfort.shrunk) < abs(poor.comfort.raw)
    assert (poor.band_name, poor.title) == (band_name(3), "Brand poor")


def test_shoes_alike_are_not_told_apart(worn, cast):
    worn("one", [7, 8, 7, 8, 7, 8, 7, 8, 7, 8])
    worn("two", [8, 7, 8, 7, 8, 7, 8, 7, 8, 7])
    assert not any(shoe.worse for shoe in shoes_in_use(on=timezone.localdate()))


def test_nobody_worn_gives_nothing(cast, chosen):
    assert shoes_in_use(on=timezone.localdate()) == []
    chosen(at=ago(weeks=3))
    assert shoes_in_use(on=timezone.localdate()) == []


def test_lab_and_office_read_it_without_any_person_and_stores_do_not(worn, cast, without_noise, sign_in):
    worn("fine", [8, 9, 8, 9, 8, 9, 8, 9, 8, 9])
    worn("poor", [4, 5, 4, 5, 4, 5, 4, 5, 4, 5])
    for who in (cast.technician, cast.reviewer, cast.office):
        page = sign_in(who).get("/outcomes/shoes/").content.decode()
        assert "less comfort than its band" in page
        assert "poor 1" not in page
    table = sign_in(cast.technician).get("/outcomes/shoes/?as=csv").getvalue().decode().splitlines()
    assert table[0] == "shoe,band,measure,people,raw,drawn_in,low,high,worse"
    assert any(
        line.startswith(f"poor,{band_name(3)},comfort_difference,10,") and line.endswith(",yes") for line in table
    )
    for who in (cast.fitter_a, cast.manager_a):
        assert sign_in(who).get("/outcomes/shoes/").status_code == 403
