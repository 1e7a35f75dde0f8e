"""Pages of specimens: received, labelled, opened by a label, and one with all that happened to it."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.urls import reverse

from core.audit import practice_id
from labtests import services
from labtests.models import Specimen
from tests.labtests.services.bench.test_specimens_life import DAY, received

FORM = {
    "kind": "sample",
    "shoe": "fenrunner-2",
    "size_eu": "42.5",
    "sides": ["left", "right"],
    "source": "shop",
    "received_on": "2026-03-02",
}


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


def text_of(response):
    return " ".join(response.content.decode().split())


def get(client, name, *args, **query):
    return client.get(reverse(f"labtests:{name}", args=args), query)


def test_received_pair_leads_to_its_labels(technician, lab):
    answer = technician.post(reverse("labtests:specimens-receive"), {**FORM, "price": "129.9", "currency": "eur"})
    assert answer.status_code == 302
    text = text_of(technician.get(answer.url))
    for words in ("FENRUNNER-2-01-L", "FENRUNNER-2-01-R", "Fenwright Fenrunner 2", "left, EU 42.5"):
        assert words in text, words
    assert text.count("lab-label__code") == 2
    assert Specimen.objects.first().receipt.currency == "EUR"


def test_label_holds_the_address_that_opens_the_specimen(technician, lab, settings, monkeypatch):
    import segno

    seen = []
    real = segno.make
    monkeypatch.setattr(segno, "make", lambda text, **given: seen.append(text) or real(text, **given))
    settings.SITE_URL = "https://lab.example"
    code = received(lab)[0].code
    get(technician, "specimen-labels", code=code)
    assert seen == [f"https://lab.example/lab/labels/{practice_id()}/{code}/"]
    for opened in (
        technician.get(seen[0].removeprefix("https://lab.example")),
        get(technician, "specimen-open", label=seen[0]),
        get(technician, "specimen-open", label=f"  {code} "),
    ):
        assert opened.url == reverse("labtests:specimen-detail", args=[code])


def test_label_from_before_the_site_moved_still_opens_its_specimen(technician, lab):
    code = received(lab)[0].code
    label = f"https://old-address.example/lab/labels/{practice_id()}/{code}/"
    assert get(technician, "specimen-open", label=label).status_code == 302


def test_label_of_another_practice_says_so_even_where_the_code_is_known(technician, lab):
    code = received(lab)[0].code
    other = f"https://elsewhere.example/lab/labels/{'0' * 12}/{code}/"
    response = get(technician, "specimen-open", label=other)
    assert response.status_code == 404
    assert "another practice (elsewhere.example)" in text_of(response)
    assert "another practice" in text_of(get(technician, "label-open", "0" * 12, code))


@pytest.mark.parametrize(
    ("label", "status", "words"),
    [
        ("F9-99", 404, "There is no specimen F9-99 here"),
        ("https://shop.example/sale", 404, "not the label of a specimen"),
        ("http://[::1", 404, "not the label of a specimen"),
        ("", 400, "Fill in “Label or code”."),
        ("x" * 301, 400, "at most 300"),
        ("a\x00b", 400, "characters that cannot be seen"),
        ("<b>", 404, "There is no specimen &lt;b&gt;"),
    ],
)
def test_what_is_no_label_is_explained(technician, label, status, words):
    response = get(technician, "specimen-open", label=label)
    assert response.status_code == status
    assert words in text_of(response)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"shoe": "no-such"}, "has no shoe"),
        ({"size_eu": "42.3"}, "Sizes come in halves"),
        ({"size_eu": "99"}, "Sizes run from"),
        ({"received_on": "2999-01-01"}, "in the future"),
        ({"price": "12"}, "has its currency"),
        ({"price": "-1", "currency": "EUR"}, "Write 0 or more"),
        ({"currency": "e1r"}, "Three capital letters"),
        ({"stem": "a b"}, "Use letters, digits"),
        ({"sides": []}, "Choose from “Sides”."),
        ({"source": "found"}, "not one of the choices"),
    ],
)
def test_pair_that_cannot_be_received_is_explained(technician, change, words):
    response = technician.post(reverse("labtests:specimens-receive"), {**FORM, **change})
    assert response.status_code == 400
    assert words in text_of(response)
    assert not Specimen.objects.exists()


def test_page_shows_place_conditioning_tests_and_disposal(technician, lab):
    left = received(lab, place="shelf 4")[0]
    chamber = services.chamber_create(actor=None, code="C-1")
    given = services.SpecimenGiven(left.code)
    entry = services.specimen_in(actor=lab.technician, chamber=chamber, specimen=given)
    assert "chamber C-1, since" in text_of(get(technician, "specimen-detail", left.code))
    services.specimen_out(actor=lab.technician, entry=entry, out_at=entry.in_at.replace(microsecond=1) + LATER)
    lab.accepted(specimen=left.code, performed="2026-03-01T08:00:00+00:00")
    text = text_of(get(technician, "specimen-detail", left.code))
    for words in ("shelf 4", "bought in a shop", "2 March 2026, by technician", "waiting for review", "taken out"):
        assert words in text, words
    address = reverse("labtests:specimen-dispose", args=[left.code])
    assert technician.post(address, {"on": str(DAY), "reason": "cut open"}).status_code == 302
    text = text_of(get(technician, "specimen-detail", left.code))
    assert "It was disposed of on 2 March 2026: cut open" in text
    again = technician.post(address, {"on": str(DAY), "reason": "cut open"})
    assert again.status_code == 400
    restore = reverse("labtests:specimen-restore", args=[left.code])
    assert technician.post(restore, {"reason": ""}).status_code == 400
    assert technician.post(restore, {"reason": "the other one"}).status_code == 302
    move = reverse("labtests:specimen-move", args=[left.code])
    assert technician.post(move, {"place": "shelf 5"}).status_code == 302
    assert technician.post(move, {"place": "x" * 81}).status_code == 400
    assert Specimen.objects.get(pk=left.pk).place == "shelf 5"


LATER = dt.timedelta(minutes=10)


def test_list_finds_by_code_shoe_kind_and_state(technician, lab):
    left, right = received(lab, place="shelf 4")
    check = received(lab, kind="check", stem="CHECK")[0]
    services.specimen_dispose(actor=lab.technician, specimen=right, on=DAY, reason="torn")

    def listed(**query):
        return {line.code for line in get(technician, "specimen-list", **query).context["lines"]}

    assert listed(q="fenwright shelf") == {left.code, right.code}
    assert listed(q="shelf", state="present") == {left.code}
    assert listed(state="disposed") == {right.code}
    assert listed(kind="check") == {check.code, "CHECK-R"}
    assert get(technician, "specimen-list", kind="left").status_code == 400
    assert "No specimen matches" in text_of(get(technician, "specimen-list", q="nothing"))


def test_pages_take_the_same_queries_however_long(technician, lab, django_assert_max_num_queries):
    for number in range(4):
        received(lab, stem=f"P-{number}")
        lab.accepted(specimen="P-0-L", performed=f"2026-03-0{number + 1}T08:00:00+00:00")
    with django_assert_max_num_queries(7):
        get(technician, "specimen-list")
    with django_assert_max_num_queries(14):
        get(technician, "specimen-detail", "P-0-L")
    with django_assert_max_num_queries(8):
        get(technician, "specimen-labels", code=[f"P-{number}-L" for number in range(4)])


def test_office_reads_and_does_not_write(lab, cast, client):
    left = received(lab)[0]
    client.force_login(cast.office)
    text = text_of(get(client, "specimen-detail", left.code))
    assert not re.search(r"<form[^>]*dispose", text)
    assert client.post(reverse("labtests:specimen-move", args=[left.code]), {"place": "x"}).status_code == 403


def test_page_to_open_a_label_begins_without_an_error(technician):
    first, empty = get(technician, "specimen-open"), get(technician, "specimen-open", label="")
    assert (first.status_code, empty.status_code) == (200, 400)
    assert "Fill in “" not in first.content.decode()
    assert "Fill in “Label or code”." in empty.content.decode()
