"""The lab's pages: what a technician and a reviewer do, and what bad input gets."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from core.models import AuditEntry
from labtests import services
from labtests.models import BenchTest, Calibration, StagedUpload, Upload
from tests.labtests.bench_text import bench_bytes, curve_rows


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@pytest.fixture
def reviewer(lab, client):
    client.force_login(lab.reviewer)
    return client


def text_of(response) -> str:
    return " ".join(response.content.decode().split())


def page(client, name, *args, **query):
    response = client.get(reverse(f"labtests:{name}", args=args), query)
    assert response.status_code == 200, response.content[:500]
    return text_of(response)


def stage(client, data, name="a.csv"):
    return client.post(reverse("labtests:upload-create"), {"file": SimpleUploadedFile(name, data)})


def held(lab, specimen="F2-07"):
    data = bench_bytes(curve_rows([(5.1, 5.9)] * 3), specimen=specimen, temperature="30 degC")
    return lab.upload(data, name=f"{specimen}.csv").tests.get()


def test_overview_shows_what_waits_what_is_held_and_why(technician, lab):
    lab.accepted(specimen="F2-01")
    held(lab)
    lab.approved(specimen="F2-02")
    text = page(technician, "home")
    assert "F2-01, test" in text
    assert "midsole temperature is 30 °C; accepted: 21 to 25 °C" in text
    assert "1 approved test" in text
    assert "F2-02.csv" in text


def test_overview_shows_rigs_that_want_attention(technician, lab):
    Calibration.objects.filter(quantity="force").update(due_on=dt.date(2025, 12, 31))
    Calibration.objects.filter(quantity="angle").delete()
    services.rig_stop(actor=lab.technician, rig=lab.rig, reason="check shoe drifted")
    text = page(technician, "home")
    assert "out of date since 1 January 2026" in text
    assert "missing" in text
    assert "check shoe drifted" in text


def test_empty_lab_says_so(technician):
    text = page(technician, "home")
    assert "No test is waiting." in text
    assert "No test is held." in text


def test_upload_is_looked_at_before_it_is_stored(technician):
    answer = stage(technician, bench_bytes())
    assert answer.status_code == 302
    text = text_of(technician.get(answer.url))
    assert "Nothing is stored yet" in text
    assert "Accepted: 1 test" in text
    assert not Upload.objects.exists()
    stored = technician.post(answer.url)
    upload = Upload.objects.get()
    assert stored.url == reverse("labtests:upload-detail", args=[upload.pk])
    assert not StagedUpload.objects.exists()
    assert "Accepted: 1 test" in page(technician, "upload-detail", upload.pk)


def test_preview_names_each_problem_by_line_and_column(technician):
    answer = stage(technician, bench_bytes(["torsion,1,loading,0,nan"], side="L"))
    text = text_of(technician.get(answer.url))
    assert "Refused: 2 problems" in text
    assert "write left or right" in text
    assert '<td data-label="Line" class="num">16</td>' in text


def test_what_was_looked_at_can_be_forgotten(technician):
    answer = stage(technician, bench_bytes())
    assert technician.post(answer.url, {"forget": "1"}).url == reverse("labtests:upload-create")
    assert not StagedUpload.objects.exists()
    assert not Upload.objects.exists()
    assert technician.get(answer.url).status_code == 404


def test_staged_bytes_of_somebody_else_are_not_there(technician, lab, client):
    answer = stage(technician, bench_bytes())
    client.force_login(lab.reviewer)
    assert client.get(answer.url).status_code == 404


def test_same_bytes_again_lead_to_the_first_upload(technician, lab):
    upload = lab.upload(bench_bytes())
    answer = technician.post(stage(technician, bench_bytes()).url, follow=True)
    assert answer.redirect_chain[-1][0] == reverse("labtests:upload-detail", args=[upload.pk])
    assert "nothing was stored twice" in text_of(answer)


def test_upload_form_without_a_file_says_so(technician):
    response = technician.post(reverse("labtests:upload-create"), {})
    assert response.status_code == 400
    assert "Choose a file for “Bench files, readings files or ZIPs of them”." in text_of(response)


def test_upload_form_over_the_limit_says_so(technician, settings):
    settings.UPLOAD_MAX_BYTES = 10
    response = stage(technician, b"x" * 11)
    assert response.status_code == 400
    assert "Send it in several parts" in text_of(response)


@pytest.mark.parametrize("data", [b"", b"\xff", b"PK\x03\x04x", b"<script>alert(1)</script>"])
def test_odd_bytes_get_a_verdict(technician, data):
    assert "Refused" in text_of(technician.get(stage(technician, data).url))


def test_names_are_escaped(technician):
    answer = stage(technician, b"", name="<b>x.csv")
    assert "<b>x.csv" not in technician.get(answer.url).content.decode()


def test_raw_bytes_come_back_as_a_download(technician, lab):
    data = bench_bytes()
    upload = lab.upload(data, name="ä b.csv")
    response = technician.get(reverse("labtests:upload-raw", args=[upload.pk]))
    assert response.content == data
    assert response.headers["Content-Type"] == "application/octet-stream"
    assert response.headers["Content-Disposition"].startswith("attachment")


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


def test_budget_and_readings_name_each_number_on_a_phone_too(technician, lab):
    test = lab.accepted()
    text = page(technician, "test-detail", test.pk)
    assert '<td data-label="Torque at 15°" class="num">5.100 N·m</td>' in text
    assert "Combined u, effective degrees of freedom" in text
    u = test.results.get().stability_u
    assert f'<td data-label="U" class="num">{2 * u:.2f}</td>' in text


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("test-type-in", "Upload"),
        ("upload-list", "Upload"),
        ("rig-create", "Rigs"),
        ("conditioning-list", "Bench day"),
        ("chamber-list", "Bench day"),
    ],
)
def test_bar_marks_the_place_that_a_page_belongs_to(technician, lab, name, place):
    assert f'aria-current="true">{place}</a>' in page(technician, name)


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
    assert "Select a valid choice" in text_of(response)


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


def test_list_is_filtered(technician, lab):
    lab.accepted(specimen="F2-01")
    held(lab)
    assert "F2-07" not in page(technician, "test-list", state="accepted")
    assert "F2-01" not in page(technician, "test-list", specimen="F2-07")
    assert "No test matches" in page(technician, "test-list", rig="rig-9")


@pytest.mark.parametrize("query", [{"state": "lost"}, {"specimen": "a\x00"}, {"shoe": "a b"}])
def test_filter_that_cannot_be_read_is_explained(technician, query):
    response = technician.get(reverse("labtests:test-list"), query)
    assert response.status_code == 400
    assert 'aria-invalid="true"' in text_of(response)


@pytest.mark.parametrize("number", ["0", "99", "x", "-1"])
def test_page_number_out_of_range_is_the_nearest_page(technician, lab, number):
    lab.accepted()
    assert "F2-01" in page(technician, "test-list", page=number)


def test_shoe_is_published_with_its_parts_and_cautions(reviewer, lab):
    lab.approved(specimen="F2-01")
    lab.approved(specimen="F2-02", torque_15=5.2)
    text = page(reviewer, "shoe-detail", "fenrunner-2")
    assert "The mean over 2 specimens" in text
    assert "What this cannot tell you" in text
    assert "new results" in page(reviewer, "shoe-list")
    answer = reviewer.post(
        reverse("labtests:shoe-publish", args=["fenrunner-2"]), {"reason": "first tests"}, follow=True
    )
    assert "is published: stability" in text_of(answer)
    listed = page(reviewer, "shoe-list", q="fen")
    assert '<span class="state state--good">published</span>' in listed
    assert "The catalogue shows every approved result" in page(reviewer, "home")


def test_shoe_that_may_not_be_published_says_why(reviewer, lab):
    lab.accepted()
    text = page(reviewer, "shoe-detail", "fenrunner-2")
    assert "It can’t be published yet" in text
    address = reverse("labtests:shoe-publish", args=["fenrunner-2"])
    assert reviewer.post(address, {"reason": "x"}).status_code == 400
    assert reviewer.post(address, {}).status_code == 400


def test_one_specimen_is_said_to_be_provisional(reviewer, lab):
    lab.approved()
    assert "provisional" in page(reviewer, "shoe-detail", "fenrunner-2")


def test_calibration_is_recorded_on_the_page(technician, lab):
    form = {
        "quantity": "force",
        "certificate": "C-77",
        "calibrated_on": "2026-02-01",
        "due_on": "2027-02-01",
        "standard_uncertainty": "0.4",
        "resolution": "0.1",
    }
    address = reverse("labtests:calibration-create", args=["rig-1"])
    assert technician.post(address, form).status_code == 302
    assert "C-77" in page(technician, "rig-detail", "rig-1")
    again = technician.post(address, form)
    assert again.status_code == 400
    assert "already has a calibration of that day" in text_of(again)
    assert technician.post(address, {**form, "resolution": "fine"}).status_code == 400


def test_rig_is_set_up_on_the_page(technician, lab):
    address = reverse("labtests:rig-create")
    assert technician.get(address).status_code == 200
    assert technician.post(address, {"code": "rig-1"}).status_code == 400
    assert technician.post(address, {"code": "a b"}).status_code == 400
    assert technician.post(address, {"code": "rig-2", "name": "Rig two"}).status_code == 302
    assert "Rig two" in page(technician, "rig-list")
    assert "None yet" in page(technician, "rig-detail", "rig-2")


def test_rig_is_stopped_by_a_technician_and_cleared_by_a_reviewer(technician, lab, client):
    stop, clear = (reverse(f"labtests:rig-{verb}", args=["rig-1"]) for verb in ("stop", "clear"))
    assert technician.post(stop, {"reason": ""}).status_code == 400
    assert technician.post(stop, {"reason": "drift"}).status_code == 302
    assert technician.post(stop, {"reason": "drift"}).status_code == 400
    assert technician.post(clear, {"reason": "repaired"}).status_code == 403
    assert "Clear it" not in page(technician, "rig-detail", "rig-1")
    client.force_login(lab.reviewer)
    assert "Clear it" in page(client, "rig-detail", "rig-1")
    assert client.post(clear, {"reason": "repaired"}).status_code == 302


def test_trail_is_filtered_by_who_what_when_and_record(reviewer, lab):
    test = lab.approved()
    assert "approved test" in page(reviewer, "audit-list", who="reviewer", action="labtests.test.approved")
    assert "No entry matches" in page(reviewer, "audit-list", until="2020-01-01")
    by_record = page(reviewer, "audit-list", record="labtests.benchtest", number=test.pk)
    assert "2 entries" in by_record
    bad = reviewer.get(reverse("labtests:audit-list"), {"since": "yesterday"})
    assert bad.status_code == 400


def test_entry_shows_before_and_after(reviewer, lab):
    test = services.bench_test_void(actor=lab.reviewer, test=lab.accepted(), reason="clamp slipped")
    newest, oldest = AuditEntry.objects.filter(object_type="labtests.benchtest", object_id=test.pk)
    text = page(reviewer, "audit-detail", newest.pk)
    assert "clamp slipped" in text
    assert "What changed" in text
    assert ">accepted</td>" in text
    assert "What was stored" in page(reviewer, "audit-detail", oldest.pk)


def test_entries_on_people_are_not_the_labs_to_read(reviewer, lab):
    from core.accounts.provisioning import user_create

    user_create(actor=None, username="somebody", password="long-enough-word-7")
    entry = AuditEntry.objects.filter(action="core.user.created").first()
    assert "somebody" not in page(reviewer, "audit-list")
    assert reviewer.get(reverse("labtests:audit-detail", args=[entry.pk])).status_code == 404


@pytest.mark.parametrize(
    ("name", "args"),
    [("test-detail", [999]), ("upload-detail", [999]), ("rig-detail", ["no-such"]), ("shoe-detail", ["no-such"])],
)
def test_what_is_not_there_is_404(reviewer, name, args):
    assert reviewer.get(reverse(f"labtests:{name}", args=args)).status_code == 404


@pytest.mark.parametrize(
    ("name", "args", "most"),
    [
        ("home", [], 16),
        ("test-list", [], 9),
        ("upload-list", [], 7),
        ("shoe-list", [], 7),
        ("rig-list", [], 7),
        ("audit-list", [], 7),
    ],
)
def test_lists_take_the_same_queries_however_long(reviewer, lab, django_assert_max_num_queries, name, args, most):
    for number in range(5):
        lab.approved(specimen=f"A-{number}")
        lab.accepted(specimen=f"B-{number}")
        held(lab, specimen=f"C-{number}")
    with django_assert_max_num_queries(most):
        page(reviewer, name, *args)


def test_test_page_takes_few_queries(reviewer, lab, django_assert_max_num_queries):
    test = lab.accepted()
    with django_assert_max_num_queries(12):
        page(reviewer, "test-detail", test.pk)
