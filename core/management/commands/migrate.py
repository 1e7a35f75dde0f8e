"""`migrate`, run as the owner of the database."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError
from django.core.management.commands.migrate import Command as Migrate

from core.database.roles import as_owner, prepare_application_role, require_owner
from core.domain.errors import DomainError


class Command(Migrate):
    def execute(self, *args: Any, **options: Any) -> str | None:
        with as_owner():
            return super().execute(*args, **options)

    def handle(self, *args: Any, **options: Any) -> Any:
        try:
            # Before the first migration, so that a missing right doesn't end a migration half-way.
            require_owner()
            prepare_application_role()
        except DomainError as problem:
            raise CommandError(problem.message) from problem
        return super().handle(*args, **options)
