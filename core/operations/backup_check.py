"""Trying a backup: restored into a server made for it, counted, and its audit trail verified."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from core.database.backup import rows_in
from core.domain.errors import DomainError

# The settings that lead to the practice's own database, which the restore would replace.
_PRACTICE = {"DATABASE_URL", "MIGRATE_DATABASE_URL", "DATABASE_REPLICA_URLS", "DATABASE_POOLING"}


@dataclass(frozen=True, slots=True)
class BackupCheck:
    """What trying a backup found: rows by table in the file, and what `verify_audit` said once they were restored."""

    rows: dict[str, int]
    trail: str

    @property
    def total(self) -> int:
        return sum(self.rows.values())


def check_backup(file: Path) -> BackupCheck:
    """Restore a backup into an embedded server of its own, which is removed afterwards.

    Raises
    ------
    DomainError
        The file is not a complete backup, rows are missing after the restore, or the trail has a fault.
    """
    if not file.is_file():
        raise DomainError(f"There is no file {file}.", code="no_file", status=404)
    written = rows_in(file)
    with tempfile.TemporaryDirectory(prefix="benchlast-") as folder:
        restored, trail = _restore_in(Path(folder), file)
    differing = [table for table, rows in written.items() if restored.get(table) != rows]
    if differing:
        lines = [f"{table}: {written[table]} rows in the file, {restored.get(table)} restored" for table in differing]
        raise DomainError("; ".join(lines), code="rows_missing")
    return BackupCheck(written, trail)


def _restore_in(folder: Path, file: Path) -> tuple[dict[str, int], str]:
    """Run `restore` in a process whose database is an embedded one in the folder."""
    environment = {name: value for name, value in os.environ.items() if name not in _PRACTICE}
    environment |= {"DEBUG": "1", "BENCHLAST_DATA": str(folder), "SECRET_KEY": settings.SECRET_KEY}
    command = [sys.executable, "manage.py", "restore", str(file), "--no-input", "--rows"]
    done = subprocess.run(  # noqa: S603
        command, cwd=settings.BASE_DIR, env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise DomainError(done.stderr.strip() or "The restore failed.", code="backup_unusable")
    rows, _, trail = done.stdout.strip().partition("\n")
    return json.loads(rows), trail
