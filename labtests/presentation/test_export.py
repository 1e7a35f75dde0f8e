"""Tests as a table for other programs, one row a repeat: the columns with their types, as CSV and as Parquet."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import pyarrow as pa
import pyarrow.parquet as pq

from labtests.domain.scores.protocol import CALIBRATED
from labtests.domain.scores.scoring import SCORES
from labtests.models import Reading, Result
from labtests.selectors.test_export import ExportedTest, band_orders

TEXT, NUMBER, WHOLE, TRUTH, TIME = pa.string(), pa.float64(), pa.int64(), pa.bool_(), pa.timestamp("us", tz="UTC")
OF_TEST = (
    *(("test", WHOLE), ("state", TEXT), ("outside_protocol", TRUTH), ("held_codes", TEXT), ("held_because", TEXT)),
    *(("brand", TEXT), ("shoe_name", TEXT), ("shoe", TEXT), ("specimen", TEXT), ("size_eu", NUMBER), ("side", TEXT)),
    *(("rig", TEXT), ("operator", TEXT), ("performed", TIME), ("protocol", TEXT), ("submitted_as", TEXT)),
    *(("conditioned_h", NUMBER), ("temperature_c", NUMBER), ("heel_clamp_n", NUMBER), ("forefoot_clamp_n", NUMBER)),
    *(("worn_km", NUMBER), ("mass_g", NUMBER), ("stack_heel_mm", NUMBER), ("stack_forefoot_mm", NUMBER)),
    *(("mean_torque_15_nm", NUMBER), ("mean_deflection_mm", NUMBER), ("mean_work_j", NUMBER)),
    *(("work_is_estimated", TRUTH), ("reviewed_by", TEXT), ("reviewed_at", TIME), ("upload", WHOLE)),
)
OF_REPEAT = (
    *(("repeat", WHOLE), ("torque_15_nm", NUMBER), ("zero_offset_nm", NUMBER), ("deflection_mm", NUMBER)),
    *(("contact_mm", NUMBER), ("work_j", NUMBER), ("energy_return", NUMBER)),
)
OF_SCORES = (
    ("scoring_model", TEXT),
    *((f"{name}{part}", NUMBER) for name in SCORES for part in ("", "_u", "_df")),
    ("band", WHOLE),
    ("band_name", TEXT),
)
OF_CERTIFICATES = tuple((f"certificate_{quantity}", TEXT) for quantity in CALIBRATED)


@dataclass(frozen=True, slots=True)
class ExportTable:
    """The columns of a table; those of the probabilities depend on how many bands the practice's scales have."""

    bands: tuple[int, ...]

    @classmethod
    def of_practice(cls) -> ExportTable:
        return cls(tuple(band_orders()))

    @property
    def schema(self) -> pa.Schema:
        probabilities = ((f"probability_band_{order}", NUMBER) for order in self.bands)
        return pa.schema([*OF_TEST, *OF_REPEAT, *OF_SCORES, *probabilities, *OF_CERTIFICATES])

    def rows(self, exported: ExportedTest) -> list[tuple[object, ...]]:
        """A row for each repeat; one for a test without readings."""
        test, rest = _of_test(exported), self._rest(exported)
        return [(*test, *_of_repeat(reading), *rest) for reading in exported.readings or (None,)]

    def _rest(self, exported: ExportedTest) -> tuple[object, ...]:
        placement = exported.placement
        known = {entry.band.order: entry.probability for entry in placement.probabilities} if placement else {}
        return (
            *_of_scores(exported.result),
            placement.band.order if placement else None,
            placement.band.name if placement else None,
            *(known.get(order) for order in self.bands),
            *(exported.certificates.get(quantity) for quantity in CALIBRATED),
        )


def _of_test(exported: ExportedTest) -> tuple[object, ...]:
    test = exported.test
    specimen = test.specimen
    return (
        *(test.pk, test.state, test.is_released, "; ".join(entry["code"] for entry in test.reasons)),
        *("; ".join(entry["message"] for entry in test.reasons), specimen.shoe.brand.name, specimen.shoe.title),
        *(specimen.shoe.slug, specimen.code, float(specimen.size_eu), specimen.side, test.rig.code),
        *(test.operator.username, test.performed_at, test.protocol.version, test.source),
        *(test.conditioned_h, test.temperature_c, test.heel_clamp_n, test.forefoot_clamp_n),
        *(test.worn_km, test.mass_g, test.stack_heel_mm, test.stack_forefoot_mm),
        *(test.torque_15_nm, test.deflection_mm, test.work_j, test.work_is_estimated),
        *(test.reviewed_by.username if test.reviewed_by else None, test.reviewed_at, test.upload_id),
    )


def _of_repeat(reading: Reading | None) -> tuple[object, ...]:
    return tuple(None if reading is None else getattr(reading, name) for name, _ in OF_REPEAT)


def _of_scores(result: Result | None) -> tuple[object, ...]:
    if result is None:
        return (None,) * (1 + 3 * len(SCORES))
    found: list[object] = [result.scoring_model.version]
    for name in SCORES:
        found += [getattr(result, name), getattr(result, f"{name}_u"), _df(result, name)]
    return tuple(found)


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
