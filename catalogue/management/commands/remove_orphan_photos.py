"""Remove the files of photos that no shoe has."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from catalogue.services.records.photos import photos_tidy
from core.domain.errors import DomainError


class Command(BaseCommand):
    help = (
        "Remove files of photos that no shoe has: a server that stopped between storing a photo and recording it may "
        "leave some. Safe to run often and in several places; meant for a daily job."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            removed = photos_tidy()
        except DomainError as problem:
            raise CommandError(problem.message) from problem
        self.stdout.write(f"{removed} files without a shoe removed.")
