"""Write the database to a file."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.audit.verification import head
from core.database import backup
from core.domain.errors import DomainError


class Command(BaseCommand):
    help = "Write the whole database to a file for `restore`. It contains health data: store it accordingly."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            backup.backup(options["file"].resolve())
        except DomainError as problem:
            raise CommandError(problem.message) from problem
        self.stdout.write(f"Wrote {options['file']}. Head of the audit trail: {head()}")
