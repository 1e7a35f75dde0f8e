"""Serve the application with a production WSGI server."""

from __future__ import annotations

import os
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from granian import Granian
from granian.constants import Interfaces


class Command(BaseCommand):
    help = "Serve the application with granian; static files are collected first."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--workers", type=int, default=2)

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.WHITENOISE_USE_FINDERS:
            call_command("collectstatic", interactive=False, verbosity=0)
        _link_to(options["port"])
        self.stdout.write(f"Serving on http://{options['host']}:{options['port']}/ (Ctrl+C stops it)")
        # Few threads, because each has its own database connection.
        Granian(
            "config.wsgi:application",
            address=options["host"],
            port=options["port"],
            interface=Interfaces.WSGI,
            workers=options["workers"],
            blocking_threads=2,
            websockets=False,
            # An access log would contain customers' signed links, and anybody with such an address can open the card.
            log_access=False,
        ).serve()


def _link_to(port: int) -> None:
    """Let signed links and QR codes lead to the port that is served, unless SITE_URL says where they lead.

    A worker is a fork with these settings, or a new process that reads them from the environment.
    """
    if not os.environ.get("SITE_URL"):
        os.environ["PORT"] = str(port)
        settings.SITE_URL = f"http://localhost:{port}"
