"""`migrate`, run as the owner of the database."""

from __future__ import annotations

from typing import Any

from django.core.management.commands.migrate import Command as Migrate

from core.database.roles import as_owner


class Command(Migrate):
    def execute(self, *args: Any, **options: Any) -> str | None:
        with as_owner():
            return super().execute(*args, **options)
