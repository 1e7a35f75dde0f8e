"""The statistician's export: nobody can be recognised, and it leaves a trace."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from collections import defaultdict

import pyarrow.parquet as pq
import pytest
from django.utils import timezone

from core import audit
from core.audit.verification import chain_faults, record_faults
from core.models import AuditEntry
from fittings.models import Customer, Fitting, FollowUp, StatisticsExport
from fittings.presentation.outcomes.statistics import COLUMNS, rows_csv
from fittings.selectors.outcomes.statistics import GIVEN_UP, statistics_table
from fittings.services.people.privacy import customer_withdraw
from tests.fittings.many_people import make_people
from tests.shared import shared

ADDRESS = "/outcomes/statistics/"


@shared
def practice(cast, make_shoe):
    """A hundred and twenty people; the note of one answer would run as a formula."""
    fittings = make_people(cast, make_shoe, 120, 4)
    FollowUp.objects.bulk_create(
        FollowUp(
            fitting=fitting,
            weeks=weeks,
            due_on=timezone.localdate(fitting.at) + dt.timedelta(weeks=weeks),
            answered_at=fitting.at + dt.timedelta(weeks=weeks, days=2) if weeks < 12 else None,
            comfort=7 if weeks < 12 else None,
            nothing_hurts=True if weeks < 12 else None,
        )
        for fitting in fittings
        for weeks in (2, 6, 12)
    )
    return fittings


def unpacked(answer):
    files = zipfile.ZipFile(io.BytesIO(answer.content))
    rows = list(csv.DictReader(io.StringIO(files.read("visits.csv").decode())))
    return files, rows


def test_everything_that_others_could_know_is_shared_by_five_people(cast, sign_in, practice):
    files, rows = unpacked(sign_in(cast.office).post(ADDRESS, {"reason": "a study of shoe age"}))
    alike = defaultdict(set)
    for row in rows:
        alike[tuple(row[name] for name in GIVEN_UP)].add(row["person"])
    assert len(alike) > 3
    assert min(map(len, alike.values())) >= 5
    summary = dict(csv.reader(io.StringIO(files.read("summary.csv").decode())))
    kept = len({row["person"] for row in rows})
    assert int(summary["people"]) == kept
    assert kept + int(summary["people left out because fewer than five are alike"]) == 120
    assert int(summary["people without store"]) > 0
    names = {customer.name for customer in Customer.objects.all()}
    text = files.read("visits.csv").decode()
    assert not any(name in text for name in names)


def test_columns_are_those_of_the_dictionary_in_both_formats(cast, sign_in, practice):
    files, rows = unpacked(sign_in(cast.office).post(ADDRESS, {"reason": "a study"}))
    table = pq.read_table(io.BytesIO(files.read("visits.parquet")))
    dictionary = list(csv.DictReader(io.StringIO(files.read("dictionary.csv").decode())))
    assert table.column_names == list(rows[0]) == [line["column"] for line in dictionary]
    assert [str(field.type) for field in table.schema] == [line["type"] for line in dictionary]
    assert table.num_rows == len(rows)
    assert table.column("comfort").to_pylist()[:3] == [7, 7, None]
    assert table.column("answered_after_weeks").to_pylist()[:3] == [2, 6, None]
    assert not any(field.name.endswith(("_at", "_on", "name", "reason")) for field in table.schema)


def test_export_is_in_the_trail_with_its_reason_and_hash(cast, sign_in, practice):
    answer = sign_in(cast.office).post(ADDRESS, {"reason": "a study of shoe age"})
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/zip")
    assert "no-store" in answer["Cache-Control"]
    record = StatisticsExport.objects.get()
    entry = AuditEntry.objects.filter(action="fittings.statistics.exported").get()
    assert (record.reason, record.made_by, entry.content["reason"]) == (
        "a study of shoe age",
        cast.office,
        record.reason,
    )
    assert len(record.sha256) == 64
    # The people of this test were made without services, so only the export's own records have entries.
    (kind,) = (kind for kind in audit.record_kinds() if kind.model is StatisticsExport)
    assert not [*chain_faults(), *record_faults(kind)]
    assert b"a study of shoe age" in sign_in(cast.office).get(ADDRESS).content


@pytest.mark.parametrize("reason", ["", "   "])
def test_without_a_reason_nothing_is_made(cast, sign_in, api_for, practice, reason):
    answer = sign_in(cast.office).post(ADDRESS, {"reason": reason})
    assert answer.status_code == 400
    assert answer.context["form"].errors["reason"]
    assert api_for(cast.office).post("/api/outcomes/statistics/", {"reason": reason}, format="json").status_code == 400
    assert not StatisticsExport.objects.exists()


def test_api_gives_the_same_files(cast, api_for, practice):
    answer = api_for(cast.office).post("/api/outcomes/statistics/", {"reason": "a study"}, format="json")
    assert answer.status_code == 200
    files, rows = unpacked(answer)
    assert sorted(files.namelist()) == ["dictionary.csv", "summary.csv", "visits.csv", "visits.parquet"]
    assert rows
    for who in (cast.manager_a, cast.fitter_a, cast.technician):
        refused = api_for(who).post("/api/outcomes/statistics/", {"reason": "mine"}, format="json")
        assert refused.status_code == 403


def test_who_withdrew_is_in_no_export_and_neither_is_anybody_recent(cast, practice, chosen):
    before = statistics_table(cast.office, on=timezone.localdate())
    gone = practice[0].customer
    customer_withdraw(
        actor=cast.manager_a if gone.store == cast.store_a else cast.fitter_b, customer=gone, reason="in-person"
    )
    chosen(at=timezone.now() - dt.timedelta(weeks=10), name="Recent", email="")
    after = statistics_table(cast.office, on=timezone.localdate())
    assert before.people + before.suppressed == 120
    assert after.people + after.suppressed == 119


def test_two_exports_give_a_person_other_numbers(cast, practice):
    one, other = (statistics_table(cast.office, on=timezone.localdate()) for _ in range(2))
    assert [dict(row) for row in one.rows] != [dict(row) for row in other.rows]


def test_text_cannot_run_as_a_formula(cast, practice):
    Fitting.objects.filter(pk__in=[fitting.pk for fitting in practice]).update(use="=1+1")
    lines = list(csv.DictReader(io.StringIO(rows_csv(statistics_table(cast.office, on=timezone.localdate())).decode())))
    assert {line["use"] for line in lines} <= {"'=1+1", ""}
    assert list(lines[0]) == [column.name for column in COLUMNS]


def test_page_and_export_cost_few_queries(cast, sign_in, practice, django_assert_max_num_queries):
    client = sign_in(cast.office)
    with django_assert_max_num_queries(6):
        client.get(ADDRESS)
    with django_assert_max_num_queries(16):
        client.post(ADDRESS, {"reason": "a study"})
