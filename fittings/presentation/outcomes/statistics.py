"""The statistician's export as files: rows as CSV and Parquet, and a dictionary of the columns."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass

import pyarrow as pa
import pyarrow.parquet as pq
from django.http import HttpResponse
from django.utils.http import content_disposition_header

from core.web.csv_export import safe_cell
from fittings.domain.disclosure.anonymity import FEWEST_ALIKE
from fittings.selectors.outcomes.statistics import GIVEN_UP, StatisticsTable


@dataclass(frozen=True, slots=True)
class Column:
    """A column of the export: its type in the Parquet file, its unit, and what it means."""

    name: str
    type: pa.DataType
    unit: str
    meaning: str


_KNOWN = "Empty where fewer than five people would be alike."
COLUMNS: tuple[Column, ...] = (
    Column("person", pa.int64(), "", "Number of a person, drawn again for each export."),
    Column("store", pa.string(), "", f"Store of the fitting. {_KNOWN}"),
    Column("use", pa.string(), "", f"What the shoes are for: running, walking, standing. {_KNOWN}"),
    Column("body_mass_kg", pa.string(), "kg", f"Body mass at the fitting, in bands of 10. {_KNOWN}"),
    Column("distance_at_fitting_km_week", pa.string(), "km a week", f"Distance then, in bands of 20. {_KNOWN}"),
    Column("complaints_at_fitting", pa.string(), "", f"Complaints at the fitting: 0, 1, 2 or more. {_KNOWN}"),
    Column("band_chosen", pa.string(), "", f"Stability band of the shoe chosen, 1 to 5. {_KNOWN}"),
    Column("in_target", pa.string(), "", f"Whether that shoe lay in the person’s target: yes, no. {_KNOWN}"),
    Column("visit_weeks", pa.int16(), "weeks", "When the follow-up was due after the choice."),
    Column("answered", pa.bool_(), "", "Whether it was answered."),
    Column("answered_after_weeks", pa.int16(), "weeks", "When it was answered after the choice, whole weeks."),
    Column("wearing", pa.bool_(), "", "Whether the shoe was still worn. Empty: not answered."),
    Column("distance_km_week", pa.int16(), "km a week", "Distance since the last visit, to 5 km. Empty: not answered."),
    Column("comfort", pa.int16(), "0 to 10", "Comfort of the shoe, 10 is best. Empty: not answered."),
    Column(
        "overuse_total",
        pa.int16(),
        "0 to 100",
        "Severity score of the overuse questions, which are in our own wording and not the validated form; the terms "
        "of use of the published form were not checked. Empty: not answered.",
    ),
    Column("days_off", pa.int16(), "days", "Days without the activity because of pain. Empty: not answered."),
    Column("nothing_hurts", pa.bool_(), "", "True: nothing hurts. False: something does. Empty: not answered."),
    Column("free_of_complaints", pa.bool_(), "", "Free of all complaints of the fitting. Empty: not known."),
    Column("recurrence", pa.string(), "", "early, late, delayed, or none as empty text. Null: not answered."),
)
DICTIONARY = ("column", "type", "unit", "meaning", "left_out_where_rare")


def dictionary_rows() -> list[tuple[str, str, str, str, str]]:
    return [(c.name, str(c.type), c.unit, c.meaning, "yes" if c.name in GIVEN_UP else "no") for c in COLUMNS]


def rows_csv(table: StatisticsTable) -> bytes:
    names = [column.name for column in COLUMNS]
    return _csv(names, [[row[name] for name in names] for row in table.rows])


def _csv(header: Sequence[str], rows: Sequence[Sequence[object]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(header)
    writer.writerows([safe_cell(value) for value in row] for row in rows)
    return text.getvalue().encode()


def rows_parquet(table: StatisticsTable) -> bytes:
    schema = pa.schema([pa.field(column.name, column.type) for column in COLUMNS])
    arrays = [pa.array([row[column.name] for row in table.rows], column.type) for column in COLUMNS]
    sink = io.BytesIO()
    pq.write_table(pa.Table.from_arrays(arrays, schema=schema), sink)
    return sink.getvalue()


def summary_rows(table: StatisticsTable) -> list[tuple[str, str]]:
    """What is in the export and what was left out."""
    left_out = [(f"people without {name}", str(people)) for name, people in table.blanked.items()]
    return [
        ("people", str(table.people)),
        ("people left out because fewer than five are alike", str(table.suppressed)),
        ("people alike, at least", str(FEWEST_ALIKE)),
        ("choices before", table.until.isoformat()),
        *left_out,
    ]


def zip_response(table: StatisticsTable, number: int) -> HttpResponse:
    """All files in one, as a download."""
    response = HttpResponse(export_zip(table), content_type="application/zip")
    disposition = content_disposition_header(as_attachment=True, filename=f"visits-{number}.zip")
    response.headers["Content-Disposition"] = disposition or "attachment"
    response.headers["Cache-Control"] = "no-store"
    return response


def export_zip(table: StatisticsTable) -> bytes:
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as files:
        files.writestr("visits.csv", rows_csv(table))
        files.writestr("visits.parquet", rows_parquet(table))
        files.writestr("dictionary.csv", _csv(DICTIONARY, dictionary_rows()))
        files.writestr("summary.csv", _csv(("what", "value"), summary_rows(table)))
    return sink.getvalue()
