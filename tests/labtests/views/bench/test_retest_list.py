"""Published shoes that are due to be tested again, and why."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from catalogue.models import FaultReport, Shoe
from labtests import services
from labtests.selectors.bench.retests import retests
from tests.shared import shared

SOON = dt.date(2026, 3, 10)


@shared
def published(lab):
    """A shoe that was published from two specimens that agree."""
    lab.approved(specimen="F2-01")
    lab.approved(specimen="F2-02", side="right")
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests")
    return lab


def reasons(today=SOON, why=""):
    return [one.reasons for one in retests(today, why)]


def card(lab, **change):
    lab.shoe.score_cards.filter(is_current=True).update(**change)


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ({}, []),
        ({"tested_on": dt.date(2025, 3, 10)}, []),
        ({"tested_on": dt.date(2025, 3, 9)}, [("old",)]),
        ({"stability_u": 2.5}, []),
        ({"stability_u": 2.51}, [("uncertain",)]),
        ({"stability_u": None}, [("uncertain",)]),
        ({"is_provisional": True}, [("provisional",)]),
        ({"is_borderline": True, "is_provisional": True}, [("borderline", "provisional")]),
    ],
)
def test_each_reason_by_its_limit(published, change, found):
    card(published, **{"is_borderline": False, "stability_u": 0.5, **change})
    assert reasons() == found
    assert reasons(why="uncertain") == [listed for listed in found if "uncertain" in listed]


@pytest.mark.parametrize(
    ("season", "is_later"), [("2026", False), ("SS27", True), ("autumn 2026/27", True), ("", False)]
)
def test_shoe_of_a_later_season_than_its_test_is_due(published, season, is_later):
    card(published, is_borderline=False, stability_u=0.5)
    Shoe.objects.update(season=season)
    assert reasons() == ([("season",)] if is_later else [])


def test_faulty_pairs_since_the_last_test_make_a_shoe_due(published, cast, client):
    card(published, is_borderline=False, stability_u=0.5, tested_on=dt.date(2026, 3, 2))
    for day in (1, 5, 6):
        FaultReport.objects.create(
            shoe=published.shoe,
            store=cast.store_a,
            size_eu=42,
            words="The heel came apart.",
            weeks_worn=3,
            reported_at=dt.datetime(2026, 3, day, 12, tzinfo=dt.UTC),
            reported_by=cast.fitter_a,
        )
    (due,) = retests(SOON, "faults")
    assert (due.reasons, due.faults) == (("faults",), 2)
    client.force_login(published.technician)
    text = client.get(reverse("labtests:retest-list"), {"sort": "faults"}).content.decode()
    assert "2 faulty pairs reported by stores since the last test" in text


def test_list_is_sorted_as_asked(published):
    card(published, is_borderline=True, stability_u=0.5, tested_on=dt.date(2026, 3, 2))
    other = published.shoe.score_cards.get(is_current=True)
    other.shoe = Shoe.objects.create(slug="arrow-1", brand=other.shoe.brand, name="Arrow")
    other.pk, other.stability_u, other.tested_on = None, None, dt.date(2026, 3, 3)
    other.save()

    def first(sort):
        return retests(SOON, sort=sort)[0].card.shoe.slug

    assert (first("oldest"), first("uncertainty"), first("shoe")) == ("fenrunner-2", "arrow-1", "arrow-1")


def test_shoe_that_is_no_longer_sold_or_not_published_is_not_listed(published):
    card(published, stability_u=None)
    Shoe.objects.update(is_discontinued=True)
    assert reasons() == []


def test_shoe_is_under_way_with_a_newer_test_or_a_specimen_in_a_chamber(published):
    card(published, stability_u=None)
    assert [(one.samples, one.is_under_way) for one in retests(SOON)] == [(2, False)]
    published.accepted(specimen="F2-03", performed="2026-03-05T08:00:00+00:00")
    assert retests(SOON)[0].is_under_way


def test_page_and_api_list_the_same(published, client, api_for):
    card(published, is_borderline=True, stability_u=None)
    client.force_login(published.technician)
    address = reverse("labtests:retest-list")
    text = client.get(address, {"why": "borderline"}).content.decode()
    assert "near the edge of its band" in text
    assert client.get(address, {"why": "mood"}).status_code == 400
    api = api_for(published.technician)
    assert api.get("/api/lab/retests/", {"why": "borderline"}).json()["results"][0]["shoe"] == "fenrunner-2"
    assert api.get("/api/lab/retests/", {"why": "mood"}).status_code == 400


def test_page_takes_the_same_queries_however_long(published, client, django_assert_max_num_queries):
    card(published, stability_u=None)
    client.force_login(published.technician)
    with django_assert_max_num_queries(6):
        client.get(reverse("labtests:retest-list"))
