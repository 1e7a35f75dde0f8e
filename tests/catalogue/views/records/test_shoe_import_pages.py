"""The pages that add shoes from a file: what was looked at is what is added."""

from __future__ import annotations

import html
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext

from catalogue.models import Brand, Shoe
from catalogue.services import brand_create, shoe_create
from catalogue.services.records.shoe_file import COLUMNS

PAGE = "/catalogue/import/"
FILE = b"brand;name;version;mass_g\nCorvane;Lantern;2;251,5\nHallin;Crest;;\n"


@pytest.fixture
def lab(cast, sign_in):
    return sign_in(cast.technician)


def send(client, data=FILE):
    return client.post(PAGE, {"file": SimpleUploadedFile("shoes.csv", data, content_type="text/csv")})


def staged_of(answer):
    return html.unescape(re.search(r'name="staged" value="([^"]+)"', answer.content.decode())[1])


def test_previewed_then_added(lab):
    brand_create(actor=None, name="Corvane")
    preview = send(lab)
    text = preview.content.decode()
    assert "2 shoes would be added as drafts" in text
    assert "<strong>New brand:</strong> Hallin." in text
    assert "<td>251,5</td>" in text
    assert not Shoe.objects.exists()
    page = lab.post(PAGE, {"staged": staged_of(preview)}, follow=True).content.decode()
    assert "2 shoes added as drafts." in page
    assert sorted(Shoe.objects.values_list("slug", "mass_g")) == [("corvane-lantern-2", 251.5), ("hallin-crest", None)]


def test_confirmed_twice_adds_once(lab):
    staged = staged_of(send(lab))
    lab.post(PAGE, {"staged": staged})
    again = lab.post(PAGE, {"staged": staged})
    assert again.status_code == 400
    assert "already has a shoe of this name and version" in again.content.decode()
    assert (Shoe.objects.count(), Brand.objects.count()) == (2, 2)


def test_shoe_added_by_somebody_else_meanwhile_is_named(lab):
    staged = staged_of(send(lab))
    shoe_create(actor=None, brand=brand_create(actor=None, name="Hallin"), name="Crest")
    answer = lab.post(PAGE, {"staged": staged})
    assert answer.status_code == 400
    assert "hallin-crest" in answer.content.decode()
    assert Shoe.objects.count() == 1


@pytest.mark.parametrize("change", [lambda text: text[:-3], lambda text: "x" + text, lambda text: text[:0]])
def test_changed_preview_is_refused(lab, change):
    page = lab.post(PAGE, {"staged": change(staged_of(send(lab)))}, follow=True).content.decode()
    assert "This preview is too old or came back damaged" in page
    assert not Shoe.objects.exists()


def test_problems_are_shown_by_row_and_column(lab):
    answer = send(lab, b"brand,name,mass_g,use\nCorvane,Lantern,heavy,running\n,Crest,,dancing\n")
    text = answer.content.decode()
    assert answer.status_code == 400
    found = re.findall(r'data-label="Row">(\d+)</th><td data-label="Column">(\w+)<', text)
    assert found == [("2", "mass_g"), ("3", "brand"), ("3", "use")]
    assert "No shoe was added" in text


@pytest.mark.parametrize("data", [b"", b"\xff\xfe\x00", b"x" * 1_100_000])
def test_file_that_is_none_is_explained(lab, data):
    assert send(lab, data).status_code == 400
    assert not Shoe.objects.exists()


def test_file_is_asked_for(lab):
    answer = lab.post(PAGE, {})
    assert answer.status_code == 400
    assert "Choose a file for “File of shoes”." in answer.content.decode()


def test_markup_in_a_cell_is_shown_as_text(lab):
    text = send(lab, b"brand,name\n<script>alert(1)</script>,Crest\n").content.decode()
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert" in text


def test_template_has_the_columns_and_is_read_as_a_file_without_shoes(lab):
    answer = lab.get(f"{PAGE}template/")
    data = b"".join(answer.streaming_content)
    assert answer.headers["Content-Disposition"] == 'attachment; filename="shoes.csv"'
    assert data.decode().strip().split(",") == list(COLUMNS)
    assert "There is no shoe below the header" in send(lab, data).content.decode()


def test_page_is_linked_from_all_shoes(lab):
    assert f'href="{PAGE}"' in lab.get("/catalogue/shoes/").content.decode()


@pytest.mark.parametrize("who", ["fitter_a", "manager_a"])
def test_stores_may_not_add_shoes(cast, sign_in, who):
    client = sign_in(cast.members()[who])
    assert client.get(PAGE).status_code == 403
    assert send(client).status_code == 403


def test_queries_of_a_preview_by_row(lab):
    def queries(count):
        data = b"brand,name\n" + b"".join(b"Corvane,Shoe %d\n" % number for number in range(count))
        with CaptureQueriesContext(connection) as captured:
            assert send(lab, data).status_code == 200
        return len(captured)

    brand_create(actor=None, name="Corvane")
    few, more = queries(2), queries(12)
    assert (more - few) / 10 <= 2
