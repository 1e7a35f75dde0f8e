"""Files chosen together: looked at with every curve, stored each as an upload of its own, or forgotten."""

from __future__ import annotations

import io
import re
import zipfile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from core.domain.errors import DomainError
from labtests import services
from labtests.models import BenchTest, Specimen, StagedUpload, Upload
from labtests.services import GivenFile
from labtests.services.bench.batches import MOST_DRAWN
from tests.labtests.bench_text import bench_bytes, curve_rows, readings_bytes

ROWS = curve_rows([(5.08, 5.88), (5.1, 5.9), (5.12, 5.92)])
ADDRESS = "/lab/uploads/new/"


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


def text_of(response):
    return " ".join(response.content.decode().split())


def file_of(code, **header):
    return SimpleUploadedFile(f"{code}.csv", bench_bytes(ROWS, specimen=code, **header))


def zipped(count):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for number in range(count):
            archive.writestr(f"{number}.csv", bench_bytes(ROWS, specimen=f"Z-{number}"))
    return SimpleUploadedFile("many.zip", buffer.getvalue())


def stage(client, *files, **headers):
    return client.post(ADDRESS, {"file": list(files)}, **headers)


def test_several_files_are_looked_at_together_and_nothing_is_stored(technician):
    answer = stage(technician, file_of("F2-01"), file_of("F2-02", temperature="30 degC"))
    text = text_of(technician.get(answer.url))
    assert "2 files" in text
    assert "Accepted: 1 test" in text
    assert "Held: 1 test" in text
    assert not Upload.objects.exists()
    assert not Specimen.objects.exists()


def test_every_curve_of_every_test_is_drawn(technician):
    answer = stage(technician, file_of("F2-01"), file_of("F2-02"))
    text = text_of(technician.get(answer.url))
    # Three repeats, each with torsion loading and compression loading and unloading.
    assert text.count("<polyline") == 2 * 9
    assert text.count('class="mark"') == 2 * 2
    assert "repeat 3, unloading" in text
    assert "style=" not in text


def test_scores_and_reasons_are_shown_before_storing(technician):
    text = text_of(technician.get(stage(technician, file_of("F2-01", temperature="30 degC")).url))
    assert "midsole temperature is 30 °C; accepted: 21 to 25 °C" in text
    assert "score__value" in text
    assert "as claimed by the file" in text


def test_readings_are_shown_as_a_table(technician):
    answer = stage(technician, SimpleUploadedFile("r.csv", readings_bytes()))
    assert "5.200 N·m" in text_of(technician.get(answer.url)).replace("\xa0", " ")


def test_test_that_cannot_be_scored_says_so(technician):
    rows = ["torsion,1,loading,0,0", "torsion,1,loading,9,3"]
    answer = stage(technician, SimpleUploadedFile("short.csv", bench_bytes(rows)))
    assert "Not scored" in text_of(technician.get(answer.url))


def test_problems_stand_by_line_and_column_beside_good_files(technician):
    bad = SimpleUploadedFile("bad.csv", bench_bytes(["torsion,1,loading,0,nan"]))
    text = text_of(technician.get(stage(technician, file_of("F2-01"), bad).url))
    assert "Refused: 1 problem" in text
    assert '<td data-label="Line" class="num">16</td>' in text
    assert "with their problems" in text
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(ids) == len(set(ids))


def test_chosen_files_are_stored_each_as_its_own_upload(technician):
    answer = stage(technician, file_of("F2-01"), file_of("F2-02"), file_of("F2-03"))
    staged = {one.name: one.pk for one in StagedUpload.objects.all()}
    stored = technician.post(
        answer.url, {"choice": "1", "keep": [staged["F2-01.csv"], staged["F2-03.csv"], "x", "9" * 30]}, follow=True
    )
    assert "2 files stored: 2 tests accepted, 0 held, 0 problems." in text_of(stored)
    assert sorted(Upload.objects.values_list("name", flat=True)) == ["F2-01.csv", "F2-03.csv"]
    assert bytes(Upload.objects.get(name="F2-01.csv").data) == file_of("F2-01").read()
    assert not StagedUpload.objects.exists()


def test_no_file_chosen_to_keep_stores_nothing(technician):
    answer = stage(technician, file_of("F2-01"), file_of("F2-02"))
    assert "nothing was stored" in text_of(technician.post(answer.url, {"choice": "1"}, follow=True))
    assert not Upload.objects.exists()


def test_file_on_record_among_several_is_named(technician, lab):
    lab.upload(file_of("F2-01").read(), name="first.csv")
    answer = stage(technician, file_of("F2-01"), file_of("F2-02"))
    text = text_of(technician.post(answer.url, follow=True))
    assert "already on record (first.csv); nothing was stored twice" in text
    assert BenchTest.objects.count() == 2


def test_button_pressed_twice_is_answered_kindly(technician):
    answer = stage(technician, file_of("F2-01"))
    technician.post(answer.url)
    again = technician.post(answer.url, follow=True)
    assert "already stored or discarded" in text_of(again)
    assert Upload.objects.count() == 1


def test_large_zip_is_drawn_in_part_and_said_so(technician):
    answer = stage(technician, zipped(60), file_of("F2-01"))
    text = text_of(technician.get(answer.url))
    assert text.count("<polyline") == MOST_DRAWN * 9
    assert "The curves of the first 12 tests are drawn here; the other 48 were judged in the same way" in text
    assert "the other 1 were judged" not in text or "drawn on their own pages" in text
    assert "Accepted: 60 tests" in text
    assert "The first 50 of each list are shown" in text


def test_long_verdict_is_paged_on_the_upload_s_page(technician, lab, monkeypatch):
    from labtests.views.bench import uploads

    monkeypatch.setattr(uploads, "ENTRIES_A_PAGE", 10)
    upload = lab.upload(zipped(25).read(), name="many.zip")
    address = reverse("labtests:upload-detail", args=[upload.pk])
    last = text_of(technician.get(address, {"page": 3}))
    assert "21 to 25 of 25 entries, page 3 of 3" in last
    assert last.count("<tr><th") == 1 + 5
    assert "Accepted: 25 tests" in last


def test_script_is_answered_in_json(technician, settings):
    answer = stage(technician, file_of("F2-01"), headers={"Accept": "application/json"})
    assert answer.status_code == 201
    assert technician.get(answer.json()["next"]).status_code == 200
    settings.UPLOAD_MAX_BYTES = 10
    refused = stage(technician, file_of("F2-01"), headers={"Accept": "application/json"})
    assert refused.status_code == 400
    assert "Send it in several parts" in refused.json()["problems"][0]


def test_page_works_without_its_script(technician):
    text = text_of(technician.get(ADDRESS))
    assert re.search(r'<input type="file" name="file"[^>]* multiple', text)
    assert "<script>" not in text
    assert 'src="/static/labtests/upload.js"' in text


@pytest.mark.parametrize("count", [0, 101])
def test_too_few_or_too_many_files_are_refused(lab, count):
    files = [GivenFile(f"{number}.csv", b"x") for number in range(count)]
    with pytest.raises(DomainError) as refusal:
        services.batch_stage(actor=lab.technician, files=files)
    assert "file" in refusal.value.fields
    assert not StagedUpload.objects.exists()


def test_files_together_over_the_limit_are_refused(lab, settings):
    settings.UPLOAD_MAX_BYTES = 10
    with pytest.raises(DomainError) as refusal:
        services.batch_stage(actor=lab.technician, files=[GivenFile("a.csv", b"x" * 6), GivenFile("b.csv", b"x" * 6)])
    assert refusal.value.status == 413


def test_one_refusal_while_storing_stores_none(lab, monkeypatch):
    files = [GivenFile(f"{code}.csv", bench_bytes(ROWS, specimen=code)) for code in ("F2-01", "F2-02")]
    batch = services.batch_stage(actor=lab.technician, files=files)
    staged = list(StagedUpload.objects.filter(batch=batch).order_by("pk"))
    from labtests.services.bench import batches

    real = batches.upload_confirm

    def fails_at_the_second(*, actor, staged):
        if staged.name == "F2-02.csv":
            raise RuntimeError("the power went")
        return real(actor=actor, staged=staged)

    monkeypatch.setattr(batches, "upload_confirm", fails_at_the_second)
    with pytest.raises(RuntimeError):
        services.batch_confirm(actor=lab.technician, staged=staged)
    assert not Upload.objects.exists()
    assert StagedUpload.objects.count() == 2


def test_preview_takes_no_more_queries_for_more_tests(technician, django_assert_max_num_queries):
    address = stage(technician, zipped(40)).url
    with django_assert_max_num_queries(22):
        technician.get(address)
