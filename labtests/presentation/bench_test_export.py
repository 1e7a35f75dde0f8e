"""Tests as a table for other programs, one row per repeat: the columns with their types, as CSV and as Parquet."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import pyarrow as pa
import pyarrow.parquet as pq

from labtests.domain.scores.protocol import CALIBRATED
from labtests.domain.scores.scoring import SCORES
from labtests.models import Reading, Result
from labtests.selectors.bench_test_export import ExportedTest, band_orders

TEXT, NUMBER, WHOLE, TRUTH, TIME = pa.string(), pa.float64(), pa.int64(), pa.bool_(), pa.timestamp("us", tz="UTC")
Column = tuple[str, pa.DataType, Callable[[ExportedTest], object]]
"""Name, type and value of a column that has the same value in every row of a test."""

OF_TEST: tuple[Column, ...] = (
    ("test", WHOLE, lambda it: it.test.pk),
    ("state", TEXT, lambda it: it.test.state),
    ("outside_protocol", TRUTH, lambda it: it.test.is_released),
    ("held_codes", TEXT, lambda it: "; ".join(entry["code"] for entry in it.test.reasons)),
    ("held_because", TEXT, lambda it: "; ".join(entry["message"] for entry in it.test.reasons)),
    ("brand", TEXT, lambda it: it.test.specimen.shoe.brand.name),
    ("shoe_name", TEXT, lambda it: it.test.specimen.shoe.title),
    ("shoe", TEXT, lambda it: it.test.specimen.shoe.slug),
    ("specimen", TEXT, lambda it: it.test.specimen.code),
    ("size_eu", NUMBER, lambda it: float(it.test.specimen.size_eu)),
    ("side", TEXT, lambda it: it.test.specimen.side),
    ("rig", TEXT, lambda it: it.test.rig.code),
    ("operator", TEXT, lambda it: it.test.operator.username),
    ("performed", TIME, lambda it: it.test.performed_at),
    ("protocol", TEXT, lambda it: it.test.protocol.version),
    ("submitted_as", TEXT, lambda it: it.test.source),
    ("conditioned_h", NUMBER, lambda it: it.test.conditioned_h),
    ("temperature_c", NUMBER, lambda it: it.test.temperature_c),
    ("heel_clamp_n", NUMBER, lambda it: it.test.heel_clamp_n),
    ("forefoot_clamp_n", NUMBER, lambda it: it.test.forefoot_clamp_n),
    ("worn_km", NUMBER, lambda it: it.test.worn_km),
    ("mass_g", NUMBER, lambda it: it.test.mass_g),
    ("stack_heel_mm", NUMBER, lambda it: it.test.stack_heel_mm),
    ("stack_forefoot_mm", NUMBER, lambda it: it.test.stack_forefoot_mm),
    ("mean_torque_15_nm", NUMBER, lambda it: it.test.torque_15_nm),
    ("mean_deflection_mm", NUMBER, lambda it: it.test.deflection_mm),
    ("mean_work_j", NUMBER, lambda it: it.test.work_j),
    ("work_is_estimated", TRUTH, lambda it: it.test.work_is_estimated),
    ("reviewed_by", TEXT, lambda it: it.test.reviewed_by.username if it.test.reviewed_by else None),
    ("reviewed_at", TIME, lambda it: it.test.reviewed_at),
    ("upload", WHOLE, lambda it: it.test.upload_id),
)
# Columns of a repeat: name, which is that of a reading's field, and type.
OF_REPEAT = (
    *(("repeat", WHOLE), ("torque_15_nm", NUMBER), ("zero_offset_nm", NUMBER), ("deflection_mm", NUMBER)),
    *(("contact_mm", NUMBER), ("work_j", NUMBER), ("energy_return", NUMBER)),
)


def _score_columns(name: str) -> tuple[Column, ...]:
    def of_result(part: str) -> Callable[[ExportedTest], object]:
        return lambda it: None if it.result is None else getattr(it.result, f"{name}{part}")

    return (
        (name, NUMBER, of_result("")),
        (f"{name}_u", NUMBER, of_result("_u")),
        (f"{name}_df", NUMBER, lambda it: None if it.result is None else _df(it.result, name)),
    )


def _probability_column(order: int) -> Column:
    def probability(it: ExportedTest) -> float | None:
        entries = it.placement.probabilities if it.placement else ()
        return next((entry.probability for entry in entries if entry.band.order == order), None)

    return f"probability_band_{order}", NUMBER, probability


def _certificate_column(quantity: str) -> Column:
    return f"certificate_{quantity}", TEXT, lambda it: it.certificates.get(quantity)


OF_SCORES: tuple[Column, ...] = (
    ("scoring_model", TEXT, lambda it: it.result.scoring_model.version if it.result else None),
    *(column for name in SCORES for column in _score_columns(name)),
    ("band", WHOLE, lambda it: it.placement.band.order if it.placement else None),
    ("band_name", TEXT, lambda it: it.placement.band.name if it.placement else None),
)
OF_CERTIFICATES = tuple(_certificate_column(quantity) for quantity in CALIBRATED)


@dataclass(frozen=True, slots=True)
class ExportTable:
    """The columns of a table; those of the probabilities depend on how many bands the practice's scales have."""

    bands: tuple[int, ...]

    @classmethod
    def of_practice(cls) -> ExportTable:
        return cls(tuple(band_orders()))

    @property
    def _after_repeat(self) -> tuple[Column, ...]:
        return (*OF_SCORES, *(_probability_column(order) for order in self.bands), *OF_CERTIFICATES)

    @property
    def schema(self) -> pa.Schema:
        before, after = ([(name, kind) for name, kind, _ in part] for part in (OF_TEST, self._after_repeat))
        return pa.schema([*before, *OF_REPEAT, *after])

    def rows(self, exported: ExportedTest) -> list[tuple[object, ...]]:
        """A row for each repeat; one for a test without readings."""
        before, after = ([value(exported) for *_, value in part] for part in (OF_TEST, self._after_repeat))
        return [(*before, *_of_repeat(reading), *after) for reading in exported.readings or (None,)]


def _of_repeat(reading: Reading | None) -> tuple[object, ...]:
    return tuple(None if reading is None else getattr(reading, name) for name, _ in OF_REPEAT)


def _df(result: Result, name: str) -> float | None:
    """Effective degrees of freedom; None where they are not limited or not known."""
    budget = result.budget_tables.get(name)
    return budget.df if budget is not None and math.isfinite(budget.df) else None


class _Chunks:
    """A file object that hands on what was written to it."""

    closed = False

    def __init__(self) -> None:
        self._parts: list[bytes] = []

    def write(self, data: bytes) -> int:
        self._parts.append(bytes(data))
        return len(data)

    def taken(self) -> bytes:
        data, self._parts = b"".join(self._parts), []
        return data

    def flush(self) -> None:
        """Nothing is buffered elsewhere."""

    def close(self) -> None:
        """The writer closes its file when it is done; what it wrote is still to be taken."""


def parquet_bytes(table: ExportTable, chunks: Iterable[Sequence[ExportedTest]]) -> Iterator[bytes]:
    """Write a Parquet file piece by piece: one group of rows for each chunk."""
    schema, sink = table.schema, _Chunks()
    with pq.ParquetWriter(sink, schema) as writer:
        for chunk in chunks:
            rows = [row for exported in chunk for row in table.rows(exported)]
            columns = list(zip(*rows, strict=True)) or [()] * len(schema)
            arrays = [pa.array(column, field.type) for column, field in zip(columns, schema, strict=True)]
            writer.write_table(pa.Table.from_arrays(arrays, schema=schema))
            yield sink.taken()
    yield sink.taken()


def csv_rows(table: ExportTable, chunks: Iterable[Sequence[ExportedTest]]) -> Iterator[list[object]]:
    """The same rows for a CSV file, with times as ISO 8601."""
    for chunk in chunks:
        for exported in chunk:
            for row in table.rows(exported):
                yield [value.isoformat() if isinstance(value, dt.datetime) else value for value in row]
