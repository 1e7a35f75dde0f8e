"""Compare the kept courses with the answers that they follow from."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.gate import row_scope
from fittings.selectors.courses import courses_apart
from fittings.services.course import courses_work_out

SHOWN = 20


class Command(BaseCommand):
    help = (
        "Work the course of every fitting out anew and compare it with the one kept, which the pages of the outcomes "
        "read. Names the fittings where they differ and exits 1; --mend keeps what was worked out. To be run with "
        "--mend after TIME_ZONE was changed."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--mend", action="store_true", help="write the courses that differ anew")

    def handle(self, *args: Any, **options: Any) -> None:
        with row_scope.everything():
            apart = courses_apart()
            if apart and options["mend"]:
                courses_work_out(apart)
                self.stdout.write(f"{len(apart)} worked out anew.")
                return
        for pk in apart[:SHOWN]:
            self.stderr.write(f"fitting {pk}: its course is not what follows from its follow-ups")
        if apart:
            raise CommandError(f"{len(apart)} courses differ. --mend works them out anew.")
        self.stdout.write("Every course is what follows from the follow-ups.")
