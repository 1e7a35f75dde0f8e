"""Replace the database with a backup."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from core.database import backup
from core.domain.errors import DomainError


class Command(BaseCommand):
    help = "Replace the whole database with a backup in one transaction, then migrate it and verify its audit trail."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        connection.close()
        try:
            backup.restore(options["file"].resolve())
        except DomainError as problem:
            raise CommandError(f"{problem.message}\nNothing was changed.") from problem
        call_command("migrate", verbosity=0)
        call_command("verify_audit", stdout=self.stdout, stderr=self.stderr)
