"""Opening a ZIP of bench files without trusting it: nothing is written to disk, nothing unpacks past the limits."""

from __future__ import annotations

import io
import stat
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

from labtests.domain.files.names import HIDDEN, shown_name
from labtests.domain.files.problems import FileRejected, Problem
from labtests.domain.files.textfile import MAX_FILE_BYTES

MAX_FILES = 20_000
MAX_TOTAL_BYTES = 1_000_000_000
MAX_NAME = 200
ZIP_MAGIC = (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")
METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
ENCRYPTED = 0x1
HIDDEN_CHARACTERS = (
    "the name has characters that are not shown, such as those that turn the direction of writing; rename the file"
)


@dataclass(frozen=True, slots=True)
class Member:
    """One file of the archive: its bytes, or the problem why it was not opened."""

    name: str
    data: bytes
    problem: Problem | None = None


def is_zip(data: bytes) -> bool:
    """Tell a ZIP by its first bytes.

    Examples
    --------
    >>> is_zip(b"# format = bench-test/1")
    False
    """
    return data.startswith(ZIP_MAGIC)


def read_archive(data: bytes, *, file: str) -> Iterator[Member]:
    """Open the members of a ZIP one after the other.

    Parameters
    ----------
    data : bytes
        The archive.
    file : str
        Its name, repeated in each problem.

    Yields
    ------
    Member
        Folders are passed over. A member that must not be opened (a path out of the archive, a link, encrypted, a
        name with hidden characters, an archive itself, not ``.csv``, over 20 MB unpacked, damaged) comes with its
        problem and no bytes.

    Raises
    ------
    FileRejected
        Before the first member: not a readable ZIP, more than 20,000 files, or more than 1 GB unpacked in all.

    Examples
    --------
    >>> import io, zipfile
    >>> buffer = io.BytesIO()
    >>> with zipfile.ZipFile(buffer, "w") as bundle:
    ...     bundle.writestr("../a.csv", "x")
    >>> [member.problem is None for member in read_archive(buffer.getvalue(), file="a.zip")]
    [False]
    """
    bundle = _open(data, file)
    members = [info for info in bundle.infolist() if not info.is_dir()]
    _check_size(members, file)
    return _read_members(bundle, members)


def _open(data: bytes, file: str) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(io.BytesIO(data))
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError):
        raise _rejected(file, "the ZIP is damaged and cannot be opened; make it again") from None


def _check_size(members: list[zipfile.ZipInfo], file: str) -> None:
    if not members:
        raise _rejected(file, "the ZIP has no files")
    if len(members) > MAX_FILES:
        raise _rejected(file, f"the ZIP has {len(members)} files; at most {MAX_FILES} are accepted")
    total = sum(info.file_size for info in members)
    if total > MAX_TOTAL_BYTES:
        raise _rejected(file, f"the ZIP unpacks to {total} bytes; at most {MAX_TOTAL_BYTES} in all are accepted")


def _rejected(file: str, problem: str) -> FileRejected:
    return FileRejected([Problem(file=file, line=1, column="file", problem=problem)])


def _read_members(bundle: zipfile.ZipFile, members: list[zipfile.ZipInfo]) -> Iterator[Member]:
    seen: set[str] = set()
    with bundle:
        for info in members:
            name = shown_name(info.filename[:MAX_NAME].encode("utf-8", "replace").decode())
            complaint = _complaint(info, seen)
            seen.add(info.filename)
            content, complaint = (b"", complaint) if complaint else _unpack(bundle, info)
            problem = Problem(file=name, line=1, column="file", problem=complaint) if complaint else None
            yield Member(name, content, problem)


def _complaint(info: zipfile.ZipInfo, seen: set[str]) -> str:
    """Say why a member must not be opened; empty where it may be."""
    # The raw name: zipfile turns a backslash into a slash on some systems only.
    raw = info.orig_filename.replace("\\", "/")
    is_link = stat.S_ISLNK(info.external_attr >> 16)
    checks = (
        (raw.startswith("/") or ":" in raw or ".." in raw.split("/"), "the name leads out of the ZIP; use plain names"),
        (HIDDEN.search(raw) is not None, HIDDEN_CHARACTERS),
        (len(raw) > MAX_NAME, f"the name is longer than {MAX_NAME} characters"),
        (info.filename in seen, "the ZIP has this name twice"),
        (is_link, "a link cannot be read; put the file itself into the ZIP"),
        (bool(info.flag_bits & ENCRYPTED), "the file is encrypted; make the ZIP without a password"),
        (raw.lower().endswith(".zip"), "a ZIP in a ZIP is not opened; put the bench files into one ZIP"),
        (not raw.lower().endswith(".csv"), "only .csv files are read"),
        (info.compress_type not in METHODS, "the way it is compressed is not supported; use the ordinary (deflate)"),
        (
            info.file_size > MAX_FILE_BYTES,
            f"unpacks to {info.file_size} bytes; at most {MAX_FILE_BYTES} (20 MB) are accepted",
        ),
    )
    return next((complaint for is_wrong, complaint in checks if is_wrong), "")


def _unpack(bundle: zipfile.ZipFile, info: zipfile.ZipInfo) -> tuple[bytes, str]:
    """Unpack a member, never more than it may be: the size it declares need not be true."""
    try:
        with bundle.open(info) as stream:
            content = stream.read(MAX_FILE_BYTES + 1)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError, ValueError):
        return b"", "the file is damaged in the ZIP and cannot be unpacked"
    if is_zip(content):
        return b"", "a ZIP in a ZIP is not opened; put the bench files into one ZIP"
    return content, ""
