"""The uncertainty of a test by Monte Carlo, beside its budget: within 2 %, worked out once, never for strangers."""

from __future__ import annotations

import re

import pytest
from django.core.cache import cache
from django.urls import reverse

from labtests.selectors.scores import monte_carlo
from labtests.selectors.scores.scoring_models import result_by
from tests.labtests.bench_text import READINGS_ROW, bench_bytes, curve_rows, readings_bytes

# Eight repeats whose torque and deflection vary each by itself.
REPEATS = [(5.1 + 0.02 * (-1) ** n, 5.9 + 0.02 * (-1) ** (n // 2)) for n in range(8)]
EIGHT_READINGS = [READINGS_ROW.format(n, *repeat) for n, repeat in enumerate(REPEATS, start=1)]


def rows_of(repeats):
    """Smooth curves that stiffen, of 50 points each."""
    rows = []
    for number, (torque, deflection) in enumerate(repeats, start=1):
        for share in (n / 47 for n in range(50)):
            rows.append(f"torsion,{number},loading,{15 * share!r},{torque * share!r}")
            rows.append(f"compression,{number},loading,{deflection * share!r},{444.82216152605 * share**1.3!r}")
    return sorted(rows, key=lambda row: (row.split(",")[1], row[0] != "t"))


EIGHT = rows_of(REPEATS)


@pytest.fixture(autouse=True)
def _nothing_kept():
    cache.clear()


@pytest.fixture
def tested(lab):
    return lab.upload(bench_bytes(EIGHT)).tests.get()


def page(client, lab, test, query=""):
    client.force_login(lab.technician)
    return client.get(reverse("labtests:test-monte-carlo", args=[test.pk]) + query)


def test_draws_agree_with_the_budget(tested):
    result = result_by(tested, "")
    lines = monte_carlo.compared(tested, result)
    assert [line.name for line in lines] == ["stability", "midfoot", "rearfoot", "cushioning"]
    assert [line.verdict for line in lines] == ["agrees"] * 4
    assert all(line.expanded > 0 and line.simulated.n == monte_carlo.DRAWS for line in lines)
    assert lines[0].simulated.mean == pytest.approx(result.stability, abs=0.1)
    assert lines[0].simulated.low < result.stability < lines[0].simulated.high


def test_few_repeats_that_scatter_have_the_interval_of_a_t_distribution(lab):
    """The scatter of three repeats outweighs all else here, and k = 2 would be less than half of what is due."""
    rows = curve_rows([(4.7, 5.9), (5.1, 5.9), (5.5, 5.9)])
    test = lab.upload(bench_bytes(rows)).tests.get()
    midfoot = monte_carlo.compared(test, result_by(test, ""))[1]
    assert midfoot.k > 4
    assert abs(midfoot.difference_percent) < 3


def test_draws_of_a_readings_file_act_on_the_readings(lab):
    test = lab.upload(readings_bytes(EIGHT_READINGS), name="readings.csv").tests.get()
    lines = monte_carlo.compared(test, result_by(test, ""))
    # The shape of its curve is not known: far more is open than in the deflection. It is evenly spread between bounds,
    # of which two standard uncertainties say too much.
    assert [line.verdict for line in lines] == ["agrees", "agrees", "agrees", "wider"]
    assert lines[3].expanded > 5 * lines[2].expanded


def test_it_is_worked_out_once_a_result(lab, client, tested, monkeypatch):
    first = page(client, lab, tested).content
    monkeypatch.setattr(monte_carlo, "simulate_scores", lambda *_, **__: pytest.fail("worked out again"))
    table = re.compile(rb"<tbody>.*</tbody>", re.DOTALL)
    assert table.search(first)[0] == table.search(page(client, lab, tested).content)[0]


def test_whoever_looks_again_later_sees_the_same_figures(tested):
    result = result_by(tested, "")
    first = monte_carlo.compared(tested, result)
    cache.clear()
    assert monte_carlo.compared(tested, result) == first


def test_number_of_draws_is_not_for_the_visitor_to_choose(lab, client, tested):
    response = page(client, lab, tested, "?draws=1000000000&model=no-such")
    assert response.status_code == 200
    assert "200\u202f000 draws" in response.content.decode()


def test_test_without_uncertainty_says_so(lab, client):
    test = lab.upload(bench_bytes(curve_rows([(5.1, 5.9)]))).tests.get()
    assert "nothing to draw from" in page(client, lab, test).content.decode()


def test_page_of_the_test_leads_there(lab, client, tested):
    client.force_login(lab.technician)
    content = client.get(reverse("labtests:test-detail", args=[tested.pk])).content.decode()
    assert reverse("labtests:test-monte-carlo", args=[tested.pk]) in content


def test_takes_few_queries(lab, client, tested, django_assert_max_num_queries):
    client.force_login(lab.technician)
    with django_assert_max_num_queries(9):
        client.get(reverse("labtests:test-monte-carlo", args=[tested.pk]))
