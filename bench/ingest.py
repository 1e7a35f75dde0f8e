"""Bench files into the lab: parse, hold or score, store, audit; beside two floors that only parse and COPY.

    .venv/bin/python -m bench.ingest               # 10,000 files, some minutes
    .venv/bin/python -m bench.ingest --files 1000  # a quick look

The floors read the same ZIPs and keep the same curves, and nothing else: no check, no uncertainty, no score, no audit.
"""

from __future__ import annotations

import argparse
import datetime as dt
import io
import itertools
import statistics
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from bench.measure import ROOT, Line, Timing, open_practice, report

REPEATS = 3
POINTS = 200
SHOES = 200
RIGS = 4
FILES_PER_ZIP = 500
# One file in so many is outside the protocol, and one has a line that is no number.
HELD_EVERY, REJECTED_EVERY = 20, 200
PERFORMED = dt.datetime(2026, 3, 4, 10, 15, tzinfo=dt.UTC)
UPLOADED = dt.datetime(2026, 3, 6, 8, tzinfo=dt.UTC)
QUANTITIES = {
    "force": (0.5, 0.1),
    "torque": (0.02, 0.01),
    "displacement": (0.01, 0.01),
    "angle": (0.05, 0.1),
    "temperature": (0.1, 0.1),
}
COMMENTS = 14
FLOAT = np.dtype("<f8")
ROW = np.dtype([("test", "S12"), ("repeat", "f8"), ("branch", "S10"), ("position", "f8"), ("load", "f8")])
FLOOR_TABLES = """
CREATE UNLOGGED TABLE IF NOT EXISTS {name} (
    file int NOT NULL, kind text NOT NULL, repeat int NOT NULL, branch text NOT NULL,
    position {type} NOT NULL, load {type} NOT NULL
)
"""


# --- the files ------------------------------------------------------------------------------------------------------


def bench_file(number: int, draw: np.random.Generator) -> bytes:
    """One file: torsion and compression, three repeats of 200 points, as a rig with 0.01 of resolution writes them."""
    temperature = 27.5 if number % HELD_EVERY == 7 else 23.0 + draw.normal(0, 0.3)
    lines = [
        "# format = bench-test/1",
        f"# shoe = shoe-{number % SHOES}",
        f"# specimen = sp-{number:06d}",
        "# size = EU 42.5",
        f"# side = {'left' if number % 2 else 'right'}",
        f"# rig = rig-{number % RIGS}",
        "# operator = technician",
        f"# performed = {(PERFORMED + dt.timedelta(seconds=number)).isoformat()}",
        f"# conditioned = {draw.uniform(48, 60):.1f} h",
        f"# temperature = {temperature:.1f} degC",
        f"# heel_clamp = {draw.normal(445, 3):.1f} N",
        f"# forefoot_clamp = {draw.normal(178, 1.5):.1f} N",
        "# torsion_units = deg, N*m",
        "# compression_units = mm, N",
        "test,repeat,branch,position,load",
    ]
    torque, deflection, bend = draw.uniform(3, 8), draw.uniform(4, 9), draw.uniform(1.2, 1.8)
    for repeat in range(1, REPEATS + 1):
        angle = np.linspace(0, 15.5, POINTS)
        moment = torque * draw.normal(1, 0.004) * (angle / 15) ** 1.1 + draw.normal(0, 0.01, POINTS)
        lines += map(f"torsion,{repeat},loading,{{:.2f}},{{:.3f}}".format, angle, moment)
        depth = np.linspace(0, deflection * 1.05, POINTS)
        force = 444.83 * draw.normal(1, 0.002) * (depth / deflection) ** bend + draw.normal(0, 0.2, POINTS)
        lines += map(f"compression,{repeat},loading,{{:.3f}},{{:.1f}}".format, depth, force)
    if number % REJECTED_EVERY == 11:
        lines[500] += "x"
    return ("\n".join(lines) + "\n").encode()


def make_zips(folder: Path, numbers: range, *, per_zip: int) -> list[Path]:
    """Write the files in ZIPs."""
    folder.mkdir(parents=True, exist_ok=True)
    draw = np.random.default_rng(numbers.start)
    paths = []
    for start in range(0, len(numbers), per_zip):
        chosen = numbers[start : start + per_zip]
        path = folder / f"files-{chosen.start}.zip"
        paths.append(path)
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as bundle:
            for number in chosen:
                bundle.writestr(f"test-{number:07d}.csv", bench_file(number, draw))
    return paths


def set_up_lab() -> None:
    from catalogue import services as catalogue
    from core.accounts.provisioning import membership_grant, user_create
    from core.gate.access import Role
    from labtests import services

    technician = user_create(actor=None, username="technician", password="never used to sign in")
    membership_grant(actor=None, user=technician, role=Role.TECHNICIAN)
    brand = catalogue.brand_create(actor=None, slug="bench", name="Bench")
    for number in range(SHOES):
        catalogue.shoe_create(actor=None, slug=f"shoe-{number}", brand=brand, name=f"Shoe {number}")
    for number in range(RIGS):
        rig = services.rig_create(actor=technician, code=f"rig-{number}", name="")
        for quantity, (u, resolution) in QUANTITIES.items():
            services.calibration_record(
                actor=None,
                rig=rig,
                quantity=quantity,
                certificate=f"C-{quantity}",
                calibrated_on=dt.date(2025, 6, 1),
                due_on=dt.date(2026, 12, 31),
                standard_uncertainty=u,
                resolution=resolution,
            )


# --- the contestants ------------------------------------------------------------------------------------------------


def store(data: bytes, name: str) -> Any:
    """The real thing."""
    from core.models import User
    from labtests.services.bench.uploads import upload_store

    technician = User.objects.get(username="technician")
    return upload_store(actor=technician, name=name, data=data, at=UPLOADED, source="bench")


def _members(data: bytes) -> Iterator[tuple[int, bytes]]:
    with zipfile.ZipFile(io.BytesIO(data)) as bundle:
        for number, info in enumerate(bundle.infolist()):
            yield number, bundle.read(info)


def _breaks(*columns: Any) -> Iterator[tuple[int, int]]:
    """Where the curves of a table begin and end."""
    differs = np.logical_or.reduce([column[1:] != column[:-1] for column in columns])
    cuts = [0, *(np.flatnonzero(differs) + 1), len(columns[0])]
    return itertools.pairwise(cuts)


def pandas_floor(data: bytes) -> None:
    """Parse by pandas, COPY arrays of doubles by psycopg's binary format."""
    import pandas as pd
    from django.db import connection, transaction

    types = ["int4", "text", "int4", "text", "float8[]", "float8[]"]
    statement = "COPY floor_arrays FROM STDIN (FORMAT BINARY)"
    with transaction.atomic(), connection.cursor() as cursor, cursor.copy(statement) as copy:
        copy.set_types(types)
        for number, text in _members(data):
            table = pd.read_csv(io.BytesIO(text), skiprows=COMMENTS)
            if table["load"].dtype.kind != "f":
                continue  # the file with a line that is no number
            columns = [table[name].to_numpy() for name in table.columns]
            for a, b in _breaks(*columns[:3]):
                key = (column[a] for column in columns[:3])
                copy.write_row((number, *key, columns[3][a:b].tolist(), columns[4][a:b].tolist()))


def numpy_floor(data: bytes) -> None:
    """Parse by numpy, COPY the bytes of the arrays."""
    from django.db import connection, transaction

    types = ["int4", "text", "int4", "text", "bytea", "bytea"]
    statement = "COPY floor_bytes FROM STDIN (FORMAT BINARY)"
    with transaction.atomic(), connection.cursor() as cursor, cursor.copy(statement) as copy:
        copy.set_types(types)
        for number, text in _members(data):
            try:
                table = np.loadtxt(io.BytesIO(text), dtype=ROW, delimiter=",", skiprows=COMMENTS + 1)
            except ValueError:
                continue
            for a, b in _breaks(table["test"], table["repeat"], table["branch"]):
                test, repeat, branch = table["test"][a], table["repeat"][a], table["branch"][a]
                points = (table[name][a:b].astype(FLOAT).tobytes() for name in ("position", "load"))
                copy.write_row((number, test.decode(), int(repeat), branch.decode(), *points))


def make_floor_tables() -> None:
    from django.db import connection

    from core.database.roles import as_owner

    with as_owner(), connection.cursor() as cursor:
        for name, kind in (("floor_arrays", "float8[]"), ("floor_bytes", "bytea")):
            cursor.execute(FLOOR_TABLES.format(name=name, type=kind))
            cursor.execute(f"GRANT ALL ON {name} TO benchlast_app")


def race(paths: list[Path]) -> dict[str, Timing]:
    """Give every contestant one ZIP after the other, in turn, so that a slow minute slows all of them."""
    seconds: dict[str, list[float]] = {"store": [], "pandas": [], "numpy": []}
    for path in paths:
        data = path.read_bytes()
        runs: dict[str, Callable[[], object]] = {
            "pandas": partial(pandas_floor, data),
            "numpy": partial(numpy_floor, data),
            "store": partial(store, data, path.name),
        }
        for name, run in runs.items():
            begin = time.perf_counter()
            run()
            seconds[name].append(time.perf_counter() - begin)
    return {name: Timing(name, tuple(values)) for name, values in seconds.items()}


def check(files: int) -> None:
    """The figures count only where everything was stored: each file judged as it should be, the trail whole."""
    from core.audit.verification import faults
    from labtests.models import BenchTest, Curve, State

    rejected = sum(number % REJECTED_EVERY == 11 for number in range(files))
    held = sum(number % HELD_EVERY == 7 for number in range(files))
    found = BenchTest.objects.count(), BenchTest.objects.filter(state=State.HELD).count(), Curve.objects.count()
    expected = files - rejected, held, (files - rejected) * 2 * REPEATS
    if found != expected:
        raise SystemExit(f"Stored were {found} tests, held tests and curves; expected were {expected}.")
    fault = next(iter(faults()), None)
    if fault is not None:
        raise SystemExit(f"The trail is not whole: {fault}")


# --- memory ---------------------------------------------------------------------------------------------------------


def peak_memory(paths: list[Path]) -> float:
    """The most memory (MB) that a fresh process holds while it stores these ZIPs, one after the other."""
    run = [sys.executable, "-m", "bench.ingest", "--store", *map(str, paths)]
    return float(subprocess.run(run, check=True, capture_output=True, text=True).stdout.split()[-1])


def store_and_report(paths: list[Path]) -> None:
    import django

    django.setup()
    for path in paths:
        store(path.read_bytes(), path.name)
    print(most_memory_mb())


def most_memory_mb() -> float:
    """The most that this process held in memory at a time; `getrusage` reports the process that started it, too."""
    status = Path("/proc/self/status").read_text()
    return int(status.partition("VmHWM:")[2].split()[0]) / 1024


# --- the report -----------------------------------------------------------------------------------------------------


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--per-zip", type=int, default=FILES_PER_ZIP)
    parser.add_argument("--store", nargs="*", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.store is not None:
        store_and_report(given.store)
        return
    open_practice("ingest")
    set_up_lab()
    make_floor_tables()
    folder = ROOT / ".data" / "bench" / "ingest-files"
    paths = make_zips(folder, range(given.files), per_zip=given.per_zip)
    timings = race(paths)
    check(given.files)
    some = [
        peak_memory([path])
        for path in make_zips(folder, range(10**6, 10**6 + given.files // 5), per_zip=given.files // 5)
    ]
    many = peak_memory(make_zips(folder, range(2 * 10**6, 2 * 10**6 + given.files), per_zip=given.files // 5))
    report(
        f"Ingestion of {given.files} bench files, {2 * REPEATS} curves of {POINTS} points each",
        lines(timings, given.files, (some[0], many)),
    )


def lines(timings: dict[str, Timing], files: int, memory: tuple[float, float]) -> list[Line]:
    rate = {name: files / sum(timing.seconds) for name, timing in timings.items()}
    ratio = {
        floor: statistics.median(
            theirs / ours for theirs, ours in zip(timings[floor].seconds, timings["store"].seconds, strict=True)
        )
        for floor in ("pandas", "numpy")
    }
    growth = memory[1] / memory[0]
    return [
        Line("floor 1: pandas parse, COPY of arrays", rate["pandas"], "/s"),
        Line("floor 2: numpy parse, COPY of bytes", rate["numpy"], "/s"),
        Line(
            "checked, scored, stored, audited: of floor 1",
            rate["store"],
            "/s",
            ratio["pandas"],
            "≥ 1",
            ratio["pandas"] >= 1,
        ),
        Line(
            "                                  of floor 2",
            rate["store"],
            "/s",
            ratio["numpy"],
            "≥ 0.5 (stretch)",
            ratio["numpy"] >= 0.5,
        ),
        Line(f"peak memory, {files // 5} files", memory[0], "MB"),
        Line(f"peak memory, {files} files", memory[1], "MB", growth, "≤ 1.1", growth <= 1.1),
    ]


if __name__ == "__main__":
    main()
