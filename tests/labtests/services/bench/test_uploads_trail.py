"""What the trail says of an upload, worked out from the rows in hand, is what reading the records back would say."""

from __future__ import annotations

import json

import pytest

from core.audit import snapshots
from core.audit.states import MEMORY_BYTES, Spool, state_of
from core.audit.verification import faults
from core.database.json_text import canonical
from core.models import AuditEntry
from labtests.models import Adoption, BenchTest, Specimen, Upload
from tests.labtests.bench_text import READINGS_ROW, bench_bytes, curve_rows, readings_bytes

THREE = curve_rows([(5.1, 5.9), (5.2, 6.0), (5.0, 5.8)])
UPLOADS = {
    "curves": bench_bytes(THREE, mass="280 g", stack_heel="31 mm", humidity="45 %"),
    "one repeat": bench_bytes(curve_rows([(5.1, 5.9)])),
    "held": bench_bytes(THREE, temperature="27.5 degC", worn="0 km"),
    "no scores": bench_bytes(["torsion,1,loading,0,-0.0", "torsion,1,loading,5,1e-7"]),
    "readings": readings_bytes([READINGS_ROW.format(n, 5.1 + n / 10, 5.9) for n in (1, 2, 3)]),
    "rejected": b"# format = bench-test/1",
}


@pytest.mark.parametrize("data", UPLOADS.values(), ids=UPLOADS)
def test_each_entry_is_what_reading_the_record_back_says(lab, data):
    before = AuditEntry.objects.latest("id").pk
    lab.upload(data)
    entries = AuditEntry.objects.filter(pk__gt=before).order_by("id")
    kinds = {model._meta.label_lower: model for model in (BenchTest, Specimen, Upload)}
    assert len(entries) == (1 if data == UPLOADS["rejected"] else 3)
    for entry in entries:
        model = kinds[entry.object_type]
        assert entry.content["after"] == snapshots(model, [int(entry.object_id)])[int(entry.object_id)]
        assert entry.content["before"] is None
    assert not list(faults())


def test_entries_made_both_ways_are_canonical(lab):
    lab.approved()
    payloads = AuditEntry.objects.values_list("payload", flat=True)
    assert all(canonical(json.loads(payload)) == payload for payload in payloads)


def test_nothing_is_read_back_of_an_upload(lab, django_assert_max_num_queries):
    # The names of sequences are looked up once in a process.
    lab.upload(bench_bytes(curve_rows([(5.1, 5.9)]), specimen="F2-99"))
    with django_assert_max_num_queries(33) as found:
        lab.upload(UPLOADS["curves"])
    read = [query["sql"] for query in found.captured_queries if "labtests_curve" in query["sql"]]
    assert not [sql for sql in read if sql.startswith("SELECT") and "nextval" not in sql]


def test_texts_wait_in_a_file_when_they_are_many():
    texts = [f"{n}ä" * (MEMORY_BYTES // 10) for n in range(6)]
    with Spool() as spool:
        kept = [spool.keep(text) for text in texts]
        assert [read() for read in reversed(kept)] == texts[::-1]
        assert spool._file._rolled


def test_a_record_that_seals_others_is_left_to_be_read_back():
    with pytest.raises(TypeError, match="seals of other rows"):
        state_of(Adoption, {})
