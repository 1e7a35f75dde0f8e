"""What the benches share: a practice of their own, interleaved rounds, medians and the table that is printed."""

from __future__ import annotations

import os
import secrets
import shutil
import statistics
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

ROOT = Path(__file__).resolve().parents[1]


def open_practice(name: str, *, keep: bool = False) -> dict[str, str]:
    """Start a database of the bench's own, migrated, with the settings of production, and set Django up on it.

    Parameters
    ----------
    name
        Of the folder below `.data/bench/`.
    keep
        Go on with what an earlier run left there, for benches whose data takes minutes to make.

    Returns
    -------
    dict
        The environment, for servers and other processes on the same practice. Servers write the request log, as in
        production; `request_log` opens the file for it. This process writes none: its lines would hide the results.
    """
    folder = ROOT / ".data" / "bench" / name
    if not keep:
        shutil.rmtree(folder, ignore_errors=True)
    from config import embedded

    environment = {
        "BENCHLAST_DATA": str(folder),
        "DATABASE_URL": embedded.start(folder),
        "DEBUG": "0",
        # The accounts of a bench have no second factor, without which reviewers and head office may do nothing.
        "REQUIRE_SECOND_FACTOR": "0",
        "SECRET_KEY": secrets.token_urlsafe(64),
        "ALLOWED_HOSTS": "127.0.0.1,localhost,testserver",
        "SECURE_SSL_REDIRECT": "0",
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "STATIC_ROOT": str(folder / "static"),
        "LOG_REQUESTS": "0",
    }
    os.environ.update(environment)
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    from core.operations import garbage

    # As every process that serves.
    garbage.search_less_often()
    return os.environ | {"LOG_REQUESTS": "1"}


def request_log(environment: Mapping[str, str]) -> TextIO:
    """Open the file that a bench's server writes its log to, with a line for each request to product and floor."""
    return Path(environment["BENCHLAST_DATA"], "requests.log").open("w")


INDEXES = """
SELECT indexes.relname, kept.conname, pg_get_constraintdef(kept.oid), pg_get_indexdef(indexes.oid)
FROM pg_index held JOIN pg_class indexes ON indexes.oid = held.indexrelid
LEFT JOIN pg_constraint kept ON kept.conindid = held.indexrelid AND kept.contype = 'u'
WHERE held.indrelid = %s::regclass AND NOT held.indisprimary
"""


@contextmanager
def indexes_afterwards(cursor: Any, table: str) -> Iterator[None]:
    """Take a table's indexes and unique constraints away while it is filled, and build each again in one go.

    Row by row, in no order of theirs, five indexes of five million rows outgrow the memory and cost minutes.
    """
    cursor.execute(INDEXES, [table])
    found = cursor.fetchall()
    for name, constraint, *_ in found:
        cursor.execute(f"ALTER TABLE {table} DROP CONSTRAINT {constraint}" if constraint else f"DROP INDEX {name}")
    yield
    cursor.execute("SET maintenance_work_mem = '512MB'")
    for _, constraint, rule, made in found:
        cursor.execute(f"ALTER TABLE {table} ADD CONSTRAINT {constraint} {rule}" if constraint else made)


@dataclass(frozen=True, slots=True)
class Timing:
    """Seconds of one contestant over all rounds."""

    name: str
    seconds: tuple[float, ...]

    @property
    def median(self) -> float:
        return statistics.median(self.seconds)


def interleave(contestants: Mapping[str, Callable[[], object]], *, rounds: int = 7, warm: int = 1) -> dict[str, Timing]:
    """Time every contestant once a round, one after the other, so that a slow minute slows all of them."""
    seconds: dict[str, list[float]] = {name: [] for name in contestants}
    for turn in range(warm + rounds):
        for name, run in contestants.items():
            begin = time.perf_counter()
            run()
            if turn >= warm:
                seconds[name].append(time.perf_counter() - begin)
    return {name: Timing(name, tuple(values)) for name, values in seconds.items()}


def percentile(seconds: list[float], share: float) -> float:
    """Return the value that `share` (0 to 1) of the sorted times do not exceed."""
    ordered = sorted(seconds)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a report: what was measured, beside which floor, and what it should be."""

    what: str
    value: float
    unit: str
    ratio: float | None = None
    target: str = ""
    met: bool | None = None


def report(title: str, lines: list[Line]) -> None:
    """Print a table of what was measured."""
    print(f"\n{title}")
    print(f"{'':58} {'median':>14}  {'ratio':>8}  target")
    for line in lines:
        ratio = "" if line.ratio is None else f"{line.ratio:.3g}"
        verdict = "" if line.met is None else ("  met" if line.met else "  MISSED")
        print(f"{line.what:58} {line.value:>9.4g} {line.unit:<5} {ratio:>8}  {line.target}{verdict}")
