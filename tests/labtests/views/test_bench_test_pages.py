"""The page of a bench test: what it shows, the decision of a reviewer, and its replacement by a corrected file."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from labtests import services
from labtests.models import BenchTest
from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.labtests.views.lab_pages import held, page, text_of


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@pytest.fixture
def reviewer(lab, client):
    client.force_login(lab.reviewer)
    return client


def test_test_page_shows_scores_budget_conditions_readings_curves_and_history(technician, lab):
    test = lab.accepted()
    text = page(technician, "test-detail", test.pk)
    for words in (
        "waiting for review",
        "Uncertainty budget of Stability",
        "torque, calibration",
        "21.0\xa0°C to 25.0\xa0°C",
        "standard deviation",
        "5.100\xa0N·m",
        "<polyline",
        "within the protocol",
        "Which band",
    ):
        assert " ".join(words.split()) in text, words
    assert "Your decision" not in text


def test_history_names_people_as_the_page_does(reviewer, lab):
    lab.technician.first_name, lab.technician.last_name = "Tilda", "Wren"
    lab.technician.save()
    test = lab.accepted()
    for name in ("test-detail", "test-report"):
        history = page(reviewer, name, test.pk).partition('<ol class="trail">')[2].partition("</ol>")[0]
        assert "Tilda Wren submitted test" in " ".join(history.replace("<br>", " ").split())
        assert lab.technician.username not in history


def test_budget_and_readings_name_each_number_on_a_phone_too(technician, lab):
    test = lab.accepted()
    text = page(technician, "test-detail", test.pk)
    assert '<td data-label="Torque at 15°" class="num">5.100 N·m</td>' in text
    assert "Combined u, effective degrees of freedom" in text
    u = test.results.get().stability_u
    assert f'<td data-label="U" class="num">{2 * u:.2f}</td>' in text


def test_test_page_in_imperial_units(technician, lab):
    technician.cookies["units"] = "imperial"
    text = page(technician, "test-detail", lab.accepted().pk)
    assert "45.139 in·lbf" in text
    assert "69.8 °F to 77.0 °F" in text


def test_held_test_page_lists_the_reasons_and_offers_to_keep_it_on_record(reviewer, lab):
    text = page(reviewer, "test-detail", held(lab).pk)
    assert "Held because" in text
    assert "Keep on record" in text
    assert "Approve:" not in text


def test_test_without_scores_says_so(technician, lab):
    test = lab.upload(bench_bytes(["torsion,1,loading,0,0", "torsion,1,loading,9,3"])).tests.get()
    text = page(technician, "test-detail", test.pk)
    assert "nothing is extrapolated" in text
    assert "not scored" in page(technician, "test-list")


def test_test_of_unknown_uncertainty_says_so(technician, lab):
    test = lab.upload(bench_bytes(curve_rows([(5.1, 5.9)]))).tests.get()
    text = page(technician, "test-detail", test.pk)
    assert "uncertainty unknown" in text
    assert "cannot be said" in text


def review(client, test, **form):
    return client.post(reverse("labtests:test-review", args=[test.pk]), form)


def test_reviewer_approves_on_the_page(reviewer, lab):
    test = lab.accepted()
    answer = review(reviewer, test, decision="approve")
    assert answer.url == reverse("labtests:test-detail", args=[test.pk])
    assert "Your decision on test" in text_of(reviewer.get(answer.url))
    test.refresh_from_db()
    assert test.state == "approved"


def test_test_on_record_alone_says_outside_protocol_everywhere(reviewer, lab):
    test = held(lab)
    review(reviewer, test, decision="release", reason="warm day")
    assert "outside protocol" in page(reviewer, "test-detail", test.pk)
    assert "outside protocol" in page(reviewer, "test-list")
    assert "on record outside the protocol" in page(reviewer, "shoe-detail", "fenrunner-2")


@pytest.mark.parametrize(
    "form", [{}, {"decision": "praise"}, {"decision": "void"}, {"decision": "release", "reason": "x"}]
)
def test_decision_that_cannot_be_made_is_explained(reviewer, lab, form):
    test = lab.accepted()
    response = review(reviewer, test, **form)
    assert response.status_code == 400
    assert "could not be saved" in text_of(response)
    test.refresh_from_db()
    assert test.state == "accepted"


def test_second_decision_is_explained(reviewer, lab):
    test = lab.approved()
    response = review(reviewer, test, decision="approve")
    assert response.status_code == 400
    assert "not one of the choices" in text_of(response)


def test_decision_overtaken_by_another_reviewer_is_explained(reviewer, lab, monkeypatch):
    test = lab.accepted()
    from labtests.views import bench_tests

    def overtaken(**given):
        services.bench_test_void(actor=lab.reviewer, test=test, reason="first")
        return services.bench_test_approve(**given)

    monkeypatch.setitem(bench_tests.DECISIONS, "approve", overtaken)
    response = review(reviewer, test, decision="approve")
    assert response.status_code == 400
    test.refresh_from_db()
    assert test.state == "void"


def test_own_test_offers_no_decision(reviewer, lab):
    test = lab.upload(bench_bytes(operator="reviewer")).tests.get()
    assert "somebody else has to decide" in page(reviewer, "test-detail", test.pk)
    assert review(reviewer, test, decision="approve").status_code == 400
    test.refresh_from_db()
    assert test.state == "accepted"


def test_curves_are_given_to_the_script_and_in_tables(technician, lab):
    text = page(technician, "test-curves", lab.accepted().pk)
    assert 'id="curve-figures" type="application/json"' in text
    assert "vendor/plotly/plotly.min.js" in text
    assert "Torsion, repeat 1, loading" in text
    assert "style=" not in text


def test_curves_of_readings_only_say_so(technician, lab):
    from tests.labtests.bench_text import readings_bytes

    test = lab.upload(readings_bytes()).tests.get()
    text = page(technician, "test-curves", test.pk)
    assert "There are no curves of this test" in text
    assert "estimated from force and deflection" in page(technician, "test-detail", test.pk)


def test_test_is_replaced_by_a_corrected_file(technician, lab):
    test = lab.accepted()
    address = reverse("labtests:test-amend", args=[test.pk])
    assert technician.get(address).status_code == 200
    data = bench_bytes(curve_rows([(5.3, 5.9)] * 3))
    answer = technician.post(address, {"file": SimpleUploadedFile("b.csv", data), "reason": "torque offset"})
    successor = BenchTest.objects.get(amends=test)
    assert answer.url == reverse("labtests:test-detail", args=[successor.pk])
    assert f'It replaces <a href="/lab/tests/{test.pk}/">' in page(technician, "test-detail", successor.pk)
    assert "It was replaced by" in page(technician, "test-detail", test.pk)


def test_replacement_by_a_refused_file_is_explained(technician, lab):
    address = reverse("labtests:test-amend", args=[lab.accepted().pk])
    response = technician.post(address, {"file": SimpleUploadedFile("b.csv", b"\xff"), "reason": "offset"})
    assert response.status_code == 400
    assert "not UTF-8" in text_of(response)


def test_test_page_takes_few_queries(reviewer, lab, django_assert_max_num_queries):
    test = lab.accepted()
    with django_assert_max_num_queries(12):
        page(reviewer, "test-detail", test.pk)
