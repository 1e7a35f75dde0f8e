"""Create an account from the command line: the first head office account, before anybody can sign in."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from core.accounts.services import account_open
from core.domain.errors import DomainError
from core.gate.permissions import Role
from core.models import Store


class Command(BaseCommand):
    help = "Create an account with one role and print its temporary password, to be changed at the first sign-in."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("user", help="user name")
        parser.add_argument("--role", choices=Role.values, required=True)
        parser.add_argument(
            "--store", metavar="ADDRESS", help="last part of the store's web address, for fitters and managers"
        )
        parser.add_argument("--reason", default="created from the command line")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            account = account_open(
                actor=None,
                username=options["user"],
                role=Role(options["role"]),
                store=_store(options["store"]),
                reason=options["reason"],
            )
        except DomainError as problem:
            raise CommandError(problem.message) from problem
        except ValidationError as problem:
            raise CommandError("; ".join(problem.messages)) from problem
        self.stdout.write(account.password)


def _store(slug: str | None) -> Store | None:
    if not slug:
        return None
    store = Store.objects.filter(slug=slug).first()
    if store is None:
        addresses = ", ".join(Store.objects.values_list("slug", flat=True)) or "none yet"
        raise CommandError(f"There is no store {slug!r}. Stores: {addresses}.")
    return store
