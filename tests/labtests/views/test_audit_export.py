"""The trail as CSV: what was asked for, safe to open, and enough to check the seals by."""

from __future__ import annotations

import csv
import hashlib
import io

import pytest
from django.urls import reverse

from core.models import AuditEntry
from core.web.csv_export import safe_cell
from labtests import services


@pytest.fixture
def reviewer(lab, sign_in):
    return sign_in(lab.reviewer)


def export(client, **asked):
    response = client.get(reverse("labtests:audit-export"), asked)
    assert response.status_code == 200
    assert response.headers["Content-Type"] == "text/csv; charset=utf-8"
    assert "attachment" in response.headers["Content-Disposition"]
    text = b"".join(response.streaming_content).decode()
    return list(csv.DictReader(io.StringIO(text)))


def test_export_holds_what_the_list_was_narrowed_to(reviewer, lab):
    test = lab.approved()
    lab.accepted(specimen="F2-02")
    rows = export(reviewer, who="reviewer", action="labtests.test.approved")
    assert [(row["who"], row["record"], row["number"]) for row in rows] == [
        ("reviewer", "labtests.benchtest", str(test.pk))
    ]
    assert len(export(reviewer, record="labtests.benchtest")) == 3
    assert export(reviewer, until="2020-01-01") == []


def test_seal_of_an_exported_entry_can_be_worked_out_from_its_row(reviewer, lab):
    lab.accepted()
    for row in export(reviewer):
        sealed = bytes.fromhex(row["previous_hash"]) + row["content"].encode()
        assert hashlib.sha256(sealed).hexdigest() == row["hash"]


def test_export_changes_nothing_and_leaves_no_entry(reviewer, lab):
    lab.accepted()
    before = AuditEntry.objects.count()
    export(reviewer)
    assert AuditEntry.objects.count() == before


def test_reason_that_looks_like_a_formula_stays_text(reviewer, lab):
    services.bench_test_void(actor=lab.reviewer, test=lab.accepted(), reason="=HYPERLINK(1)")
    (row,) = export(reviewer, action="labtests.test.voided")
    assert row["reason"] == "'=HYPERLINK(1)"


@pytest.mark.parametrize(
    ("value", "cell"),
    [("=1+1", "'=1+1"), ("+a", "'+a"), ("-a", "'-a"), ("@a", "'@a"), ("\ta", "'\ta"), (-2.5, "-2.5"), (None, "")],
)
def test_cells_never_become_formulas(value, cell):
    assert safe_cell(value) == cell


@pytest.mark.parametrize("address", ["audit-list", "audit-export"])
@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"since": "yesterday"}, "Enter a valid date"),
        ({"since": "2026-03-05", "until": "2026-03-04"}, "This is before the first day, 5 March 2026"),
        ({"action": "no.such"}, "not one of the choices"),
        ({"who": "a\x00"}, "characters that cannot be seen"),
    ],
)
def test_what_cannot_be_asked_is_reported_at_its_field(reviewer, address, asked, words):
    response = reviewer.get(reverse(f"labtests:{address}"), asked)
    assert response.status_code == 400
    assert words in response.content.decode()


def test_export_takes_the_same_queries_however_long(reviewer, lab, django_assert_max_num_queries):
    for number in range(4):
        lab.accepted(specimen=f"A-{number}")
    with django_assert_max_num_queries(8):
        export(reviewer)
