"""Backup and restore of the whole database by PostgreSQL's own programs."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, TypeVar

from django.db import connection, transaction
from django.db.migrations.loader import MigrationLoader

from core.database.programs import failure, program, start
from core.database.roles import as_owner, prepare_application_role, require_owner
from core.domain.errors import DomainError

T = TypeVar("T")

# pg_restore of version 17 and later writes settings that earlier servers do not know: (statement, first version).
_LATER_SETTINGS = ((b"SET transaction_timeout = 0;\n", 170_000),)
# They are in its first lines, before anything that could be a value of the practice's.
_PREAMBLE_LINES = 40
_BLOCK = re.compile(rb'COPY public\."?(\w+)"? ')


def backup(file: Path, *, fact: Callable[[], T]) -> T:
    """Write the database to a file that appears only when it is complete; only its owner can read it.

    Call it with every row in scope: those about people are counted, and compared with the file.

    Parameters
    ----------
    fact : read in the same snapshot of the database, and returned

    Raises
    ------
    DomainError
        The file cannot be written, or would lack rows; there is no file then.
    """
    partial = file.with_name(file.name + ".partial")
    if not file.parent.is_dir():
        raise DomainError(f"The folder {file.parent} does not exist.", code="no_folder")
    with as_owner():
        require_owner()
    try:
        partial.unlink(missing_ok=True)
        os.close(os.open(partial, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        with _snapshot() as snapshot:
            said, there = fact(), _rows_under_rules()
            _dump(partial, snapshot)
        _refuse_missing(there, rows_in(partial, *there))
        partial.replace(file)
    except OSError as problem:
        raise DomainError(f"{file} cannot be written ({problem.strerror}).", code="not_writable") from problem
    finally:
        partial.unlink(missing_ok=True)
    return said


@contextmanager
def _snapshot() -> Iterator[str]:
    """Hold one state of the database, which pg_dump then reads as well."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        (name,) = cursor.fetchone()
        yield str(name)


def _rows_under_rules() -> dict[str, int]:
    """Count the rows of the tables that have rules for rows: those about people."""
    counts = {}
    with connection.cursor() as cursor:
        cursor.execute("SELECT relname FROM pg_class WHERE relrowsecurity AND relnamespace = 'public'::regnamespace")
        for (table,) in cursor.fetchall():
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")  # noqa: S608  a quoted name
            counts[table] = cursor.fetchone()[0]
    return counts


def rows_in(file: Path, *tables: str) -> dict[str, int]:
    """Count the rows of each table in a backup, or of these tables."""
    only = [f"--table={table}" for table in tables]
    reader = start(program("pg_restore"), "--data-only", "--file=-", *only, str(file), stdout=subprocess.PIPE)
    counts: dict[str, int] = {}
    table = ""
    for line in reader.stdout or ():
        if table:
            if line == b"\\.\n":
                table = ""
            else:
                counts[table] += 1
        elif block := _BLOCK.match(line):
            table = block[1].decode()
            counts[table] = 0
    problem = failure(reader)
    if problem is not None:
        raise problem
    return counts


def _refuse_missing(there: dict[str, int], written: dict[str, int]) -> None:
    differing = [table for table, rows in there.items() if written.get(table) != rows]
    if differing:
        lines = [f"{table}: {written.get(table)} of {there[table]} rows" for table in differing]
        raise DomainError(
            f"The backup would not be whole ({'; '.join(lines)}), so it was not stored. Set MIGRATE_DATABASE_URL to "
            "the address of the server itself, as the owner of the tables.",
            code="rows_missing",
        )


def _dump(file: Path, snapshot: str) -> None:
    # The rules for rows bind the owner as well; by its options every row is in scope.
    options = ("--format=custom", "--no-owner", "--no-acl", "--enable-row-security", f"--snapshot={snapshot}")
    version = connection.cursor().connection.info.server_version // 10_000
    problem = failure(start(program("pg_dump", server_version=version), *options, f"--file={file}"))
    if problem is not None:
        raise problem


def restore(file: Path) -> None:
    """Replace the database with a backup, completely or not at all. The caller grants the role's rights afterwards.

    Raises
    ------
    DomainError
        The file is not a backup, it is from a newer version of the program, or the database refuses it; nothing is
        changed then.
    """
    if not file.is_file():
        raise DomainError(f"There is no file {file}.", code="no_file", status=404)
    _refuse_newer(file)
    with as_owner():
        # A new server does not have the role yet, which the rules for rows name.
        require_owner()
        prepare_application_role()
        version = connection.cursor().connection.info.server_version
    unknown = {statement for statement, since in _LATER_SETTINGS if version < since}
    writer = start(
        program("psql"),
        *("--quiet", "--no-psqlrc", "--single-transaction", "--set=ON_ERROR_STOP=1", "--output=/dev/null"),
        "--command=SET client_min_messages = warning",
        "--command=DROP SCHEMA public CASCADE",
        "--command=CREATE SCHEMA public",
        "--file=-",
        stdin=subprocess.PIPE,
    )
    reader = start(program("pg_restore"), "--no-owner", "--no-acl", "--file=-", str(file), stdout=subprocess.PIPE)
    try:
        _pour(reader, writer, unknown)
    finally:
        for process in (reader, writer):
            process.kill()
            # Closes the pipes; what was not sent yet is sent to nobody.
            with suppress(BrokenPipeError), process:
                pass


def _pour(reader: subprocess.Popen[bytes], writer: subprocess.Popen[bytes], unknown: set[bytes]) -> None:
    """Hand statements from one program to the other, so that no file with the rows of people is left in between."""
    if reader.stdout is None or writer.stdin is None:
        raise ValueError("reader needs a pipe for its output and writer one for its input")
    with suppress(BrokenPipeError):
        _copy(reader.stdout, writer.stdin, unknown)
        # Only now is it known whether the file could be read to its end: half of it must not be committed.
        unread = failure(reader)
        if unread is not None:
            raise unread
        writer.stdin.close()
    refused = failure(writer)
    if refused is not None:
        raise refused


def _copy(source: IO[bytes], target: IO[bytes], unknown: set[bytes]) -> None:
    for _ in range(_PREAMBLE_LINES):
        line = source.readline()
        if line not in unknown:
            target.write(line)
    shutil.copyfileobj(source, target, 1 << 20)


def _refuse_newer(file: Path) -> None:
    """Refuse a backup with migrations that this program does not have: it could not work with their tables."""
    unknown = sorted(_migrations_in(file) - set(MigrationLoader(None, ignore_no_migrations=True).disk_migrations))
    if unknown:
        names = ", ".join(f"{app}.{name}" for app, name in unknown[:3])
        raise DomainError(
            f"The backup is from a newer version of the program, with {len(unknown)} migrations that this one does not "
            f"have ({names}). Install that version first.",
            code="newer_backup",
        )


def _migrations_in(file: Path) -> set[tuple[str, str]]:
    """Read the applied migrations of the installed apps from a backup."""
    command = ("pg_restore", "--data-only", "--table=django_migrations", "--file=-", str(file))
    reader = start(program(command[0]), *command[1:], stdout=subprocess.PIPE)
    text = reader.stdout.read().decode() if reader.stdout else ""
    problem = failure(reader)
    if problem is not None:
        raise problem
    _, _, rows = text.partition("FROM stdin;\n")
    lines = [line.split("\t") for line in rows.partition("\n\\.")[0].splitlines()]
    return {(cells[1], cells[2]) for cells in lines}
