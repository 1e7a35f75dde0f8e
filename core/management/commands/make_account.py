"""Create an account from the command line: the first head office account, before anybody can sign in."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from core.accounts.links import account_invite, link_renew
from core.accounts.services import account_open
from core.domain.errors import DomainError
from core.gate.access import Role
from core.models import Store, User

FIRST_NAME = "head-office"


class Command(BaseCommand):
    help = (
        "Create a head office account and print a single-use link by which its owner chooses the password. Run again "
        "for an account that has no password yet, it prints a new link. With --role, create an account with that role "
        "and print its temporary password, or with --link a single-use link."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("user", nargs="?", default=FIRST_NAME, help=f"user name, {FIRST_NAME} if left out")
        parser.add_argument("--role", choices=Role.values, help="head office if left out")
        parser.add_argument("--link", action="store_true", help="print a single-use link, not a temporary password")
        parser.add_argument(
            "--store", metavar="ADDRESS", help="last part of the store’s web address, for fitters and managers"
        )
        parser.add_argument("--email", default="", help="where its owner is informed of changes to the account")
        parser.add_argument("--reason", default="created from the command line")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            self.stdout.write(_secret(options))
        except DomainError as problem:
            raise CommandError(problem.message) from problem
        except ValidationError as problem:
            raise CommandError("; ".join(problem.messages)) from problem


def _secret(options: dict[str, Any]) -> str:
    """Create the account, and return its link or its temporary password."""
    by_link = options["link"] or options["role"] is None
    waiting = User.objects.filter(username=options["user"]).first() if by_link else None
    if waiting is not None and not waiting.has_usable_password():
        return link_renew(actor=None, user=waiting, reason=options["reason"]).url
    asked = {
        "username": options["user"],
        "role": Role(options["role"] or Role.OFFICE),
        "store": _store(options["store"]),
        "email": options["email"],
        "reason": options["reason"],
    }
    return account_invite(actor=None, **asked).url if by_link else account_open(actor=None, **asked).password


def _store(slug: str | None) -> Store | None:
    if not slug:
        return None
    store = Store.objects.filter(slug=slug).first()
    if store is None:
        addresses = ", ".join(Store.objects.values_list("slug", flat=True)) or "none yet"
        raise CommandError(f"There is no store {slug!r}. Stores: {addresses}.")
    return store
