"""A ZIP is opened without trusting it."""

from __future__ import annotations

import io
import stat
import struct
import warnings
import zipfile

import pytest

from labtests.domain.files import archive
from labtests.domain.files.problems import FileRejected
from labtests.domain.files.submission import read_submission, upload_kind
from tests.labtests.bench_text import bench_bytes, readings_bytes


def zipped(*members: tuple[object, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(buffer, "w", method) as bundle:
        warnings.simplefilter("ignore")
        for name, data in members:
            bundle.writestr(name, data)
    return buffer.getvalue()


def complaint_of(data: bytes) -> str:
    (member,) = archive.read_archive(data, file="a.zip")
    assert member.problem is not None
    assert member.data == b""
    return member.problem.problem


def test_files_are_read_and_folders_passed_over():
    data = zipped(("monday/", b""), ("monday/a.csv", b"x"), ("b.CSV", b"y"))
    members = list(archive.read_archive(data, file="a.zip"))
    assert [(member.name, member.data, member.problem) for member in members] == [
        ("monday/a.csv", b"x", None),
        ("b.CSV", b"y", None),
    ]


@pytest.mark.parametrize("name", ["../a.csv", "/etc/a.csv", "a/../../b.csv", "..\\a.csv", "C:\\a.csv"])
def test_path_out_of_the_archive_is_refused(name):
    assert "leads out of the ZIP" in complaint_of(zipped((name, b"x")))


def test_link_is_refused():
    info = zipfile.ZipInfo("a.csv")
    info.external_attr = (stat.S_IFLNK | 0o777) << 16
    assert "a link cannot be read" in complaint_of(zipped((info, b"/etc/hostname")))


def test_encrypted_member_is_refused():
    data = bytearray(zipped(("a.csv", b"x")))
    at = data.find(b"PK\x01\x02") + 8
    data[at : at + 2] = struct.pack("<H", 0x1)
    assert "without a password" in complaint_of(bytes(data))


@pytest.mark.parametrize("name", ["inner.zip", "inner.csv"])
def test_zip_in_a_zip_is_refused(name):
    assert "a ZIP in a ZIP" in complaint_of(zipped((name, zipped(("a.csv", b"x")))))


def test_other_kinds_of_file_are_refused():
    assert complaint_of(zipped(("a.exe", b"x"))) == "only .csv files are read"


def test_name_twice_is_refused_the_second_time():
    first, second = archive.read_archive(zipped(("a.csv", b"x"), ("a.csv", b"y")), file="a.zip")
    assert (first.data, second.problem.problem) == (b"x", "the ZIP has this name twice")


@pytest.mark.parametrize("hidden", ["\u202e", "\u2066", "\u200f", "\u061c", "\n", "\x7f"])
def test_name_with_hidden_characters_is_refused_and_named_without_them(hidden):
    data = zipped((f"rig{hidden}vsc.csv", b"x"))
    assert "turn the direction of writing" in complaint_of(data)
    (member,) = archive.read_archive(data, file="a.zip")
    assert member.name == member.problem.file == "rigvsc.csv"


def test_too_long_name_is_refused():
    assert "longer than 200" in complaint_of(zipped(("a" * 250 + ".csv", b"x")))


def test_uncommon_compression_is_refused():
    assert "not supported" in complaint_of(zipped(("a.csv", b"x"), method=zipfile.ZIP_BZIP2))


def test_file_that_unpacks_past_the_limit_is_not_unpacked():
    bomb = zipped(("a.csv", b"0" * 20_000_001))
    assert len(bomb) < 30_000
    assert "unpacks to 20000001 bytes" in complaint_of(bomb)


def test_member_that_is_wrong_about_its_size_is_refused():
    data = bytearray(zipped(("a.csv", b"0" * 1000)))
    at = data.find(b"PK\x01\x02") + 24
    data[at : at + 4] = struct.pack("<I", 10)
    assert "damaged" in complaint_of(bytes(data))


def test_damaged_archive_is_refused():
    data = zipped(("a.csv", b"x" * 100))
    with pytest.raises(FileRejected, match="damaged"):
        archive.read_archive(data[:-10], file="a.zip")


def test_empty_archive_is_refused():
    with pytest.raises(FileRejected, match="no files"):
        archive.read_archive(zipped(), file="a.zip")


def test_too_many_files_are_refused(monkeypatch):
    monkeypatch.setattr(archive, "MAX_FILES", 2)
    with pytest.raises(FileRejected, match="has 3 files; at most 2 are accepted"):
        archive.read_archive(zipped(*((f"{n}.csv", b"x") for n in range(3))), file="a.zip")


def test_archive_that_unpacks_past_the_limit_is_refused(monkeypatch):
    monkeypatch.setattr(archive, "MAX_TOTAL_BYTES", 5)
    with pytest.raises(FileRejected, match="unpacks to 6 bytes"):
        archive.read_archive(zipped(("a.csv", b"xxx"), ("b.csv", b"xxx")), file="a.zip")


def test_submission_opens_every_kind():
    both = zipped(("a.csv", bench_bytes()), ("r.csv", readings_bytes()), ("bad.csv", b""), ("c.txt", b""))
    files = list(read_submission(both, name="a.zip"))
    assert [(file.name, len(file.tests), len(file.problems)) for file in files] == [
        ("a.csv", 1, 0),
        ("r.csv", 1, 0),
        ("bad.csv", 0, 1),
        ("c.txt", 0, 1),
    ]
    assert [file.size_bytes for file in files] == [len(bench_bytes()), len(readings_bytes()), 0, 0]
    assert files[0].tests[0].curves
    assert files[1].tests[0].readings
    assert (files[0].tests[0].line_of("shoe"), files[1].tests[0].line_of("shoe")) == (2, 2)
    assert [upload_kind(data) for data in (both, bench_bytes(), readings_bytes())] == ["zip", "curves", "readings"]


def test_submission_of_a_damaged_archive_is_one_file_with_its_problem():
    (file,) = read_submission(b"PK\x03\x04 nothing more", name="a.zip")
    assert file.problems[0].file == "a.zip"
