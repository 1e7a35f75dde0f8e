"""Write the database to a file, or try such a file."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.audit.verification import head
from core.database import backup
from core.domain.errors import DomainError
from core.gate import row_scope
from core.operations.backup_check import check_backup


class Command(BaseCommand):
    help = "Write the whole database to a file for `restore`. It contains health data: store it accordingly."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--verify",
            action="store_true",
            help="try a file that was written earlier: restore it into a server of its own, count its rows and verify "
            "its audit trail. The practice’s database is not touched",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        file = options["file"].resolve()
        try:
            if options["verify"]:
                self._verify(file)
            else:
                with row_scope.everything():
                    written = backup.backup(file, fact=head)
                self.stdout.write(f"Wrote {file}. Head of the audit trail: {written}")
        except DomainError as problem:
            raise CommandError(problem.message) from problem

    def _verify(self, file: Path) -> None:
        check = check_backup(file)
        self.stdout.write(f"{file} is complete: {check.total} rows in {len(check.rows)} tables were restored.")
        self.stdout.write(check.trail)
