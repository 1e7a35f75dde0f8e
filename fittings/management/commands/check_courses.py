"""Compare the stored courses with the answers that they follow from."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.gate import row_scope
from fittings.selectors.outcomes.courses import courses_apart
from fittings.services.outcomes.course import courses_work_out

SHOWN = 20


class Command(BaseCommand):
    help = (
        "Work out the courses of everybody who chose a shoe and compare them with the stored ones, which the pages of "
        "the outcomes read. Names the fittings where they differ and exits 1; --fix writes the correct ones. Run it "
        "with --fix after changing TIME_ZONE."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--fix", action="store_true", help="rewrite the courses that differ")

    def handle(self, *args: Any, **options: Any) -> None:
        with row_scope.everything():
            apart = courses_apart()
            if apart and options["fix"]:
                courses_work_out(apart)
                self.stdout.write(f"{len(apart)} rewritten.")
                return
        for pk in apart[:SHOWN]:
            self.stderr.write(f"fitting {pk}: its course is not what follows from its follow-ups")
        if apart:
            raise CommandError(f"{len(apart)} courses differ. Run with --fix to rewrite them.")
        self.stdout.write("Every course is what follows from the follow-ups.")
