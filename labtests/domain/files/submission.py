"""An upload of any kind, opened: what each file in it says, or every problem it has."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from labtests.domain.files.archive import is_zip, read_archive
from labtests.domain.files.benchfile import read_bench_file
from labtests.domain.files.header import Header
from labtests.domain.files.problems import FileRejected, Problem
from labtests.domain.files.readingsfile import RepeatReading, is_readings_file, read_readings_file
from labtests.domain.files.recorded_curve import RecordedCurve


@dataclass(frozen=True, slots=True, eq=False)
class SubmittedTest:
    """One test as submitted: curves or readings, never both."""

    header: Header
    extra: dict[str, str]
    lines: Mapping[str, int]
    first_line: int = 1
    curves: tuple[RecordedCurve, ...] = ()
    readings: tuple[RepeatReading, ...] = ()

    def line_of(self, key: str) -> int:
        """Where a key or column of the test is in its file, counted from 1."""
        return self.lines.get(key, self.first_line)


@dataclass(frozen=True, slots=True, eq=False)
class SubmittedFile:
    """One file of an upload, `size_bytes` long unpacked; either `tests` or `problems` is empty."""

    name: str
    sha256: str
    tests: tuple[SubmittedTest, ...] = ()
    warnings: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    size_bytes: int = 0


def upload_kind(data: bytes) -> str:
    """Tell what was uploaded: ``zip``, ``readings`` or ``curves``.

    Examples
    --------
    >>> upload_kind(b"# format = bench-test/1")
    'curves'
    """
    if is_zip(data):
        return "zip"
    return "readings" if is_readings_file(data) else "curves"


def read_submission(data: bytes, *, name: str) -> Iterator[SubmittedFile]:
    """Open an upload and read its files one after the other; problems come as results, never as exceptions.

    Parameters
    ----------
    data : bytes
        A bench file, a readings file or a ZIP of them.
    name : str
        The name it was uploaded under.

    Yields
    ------
    SubmittedFile
        In the order of the archive.

    Examples
    --------
    >>> [file.problems[0].problem for file in read_submission(b"", name="a.csv")]
    ['the file is empty; export it from the rig once more']
    """
    if not is_zip(data):
        yield read_file(data, name=name)
        return
    try:
        members = read_archive(data, file=name)
    except FileRejected as rejected:
        yield SubmittedFile(name, "", problems=rejected.problems)
        return
    for member in members:
        if member.problem:
            yield SubmittedFile(member.name, "", problems=(member.problem,))
        else:
            yield read_file(member.data, name=member.name)


def read_file(data: bytes, *, name: str) -> SubmittedFile:
    """Read one bench or readings file; its problems come as a result.

    Examples
    --------
    >>> read_file(b"\\xff", name="a.csv").problems[0].line
    1
    """
    sha256 = hashlib.sha256(data).hexdigest()
    try:
        if is_readings_file(data):
            readings = read_readings_file(data, file=name)
            tests = tuple(
                SubmittedTest(test.header, test.extra, {}, test.line, readings=test.repeats) for test in readings.tests
            )
            return SubmittedFile(name, sha256, tests, readings.warnings, size_bytes=len(data))
        bench = read_bench_file(data, file=name)
    except FileRejected as rejected:
        return SubmittedFile(name, sha256, problems=rejected.problems, size_bytes=len(data))
    test = SubmittedTest(bench.header, bench.extra, bench.lines, curves=bench.curves)
    return SubmittedFile(name, sha256, (test,), bench.warnings, size_bytes=len(data))
