"""The links of a served practice lead to the port that is served."""

from __future__ import annotations

import os

import pytest
from django.core.management import call_command

from core.management.commands import serve


@pytest.fixture
def served(monkeypatch, settings):
    """Return a function that serves on a port without serving, and returns the port and the address of links."""
    seen = {}

    class Server:
        def __init__(self, target, **options):
            seen.update(options)

        def serve(self):
            seen["site"], seen["PORT"] = settings.SITE_URL, os.environ.get("PORT")

    monkeypatch.setattr(serve, "Granian", Server)
    monkeypatch.setenv("PORT", "8000")
    monkeypatch.delenv("SITE_URL", raising=False)
    settings.SITE_URL = "http://localhost:8000"

    def run(*words):
        call_command("serve", *words)
        return seen

    return run


def test_links_follow_the_port_for_this_process_and_its_workers(served):
    seen = served("--port", "8137")
    assert seen["port"] == 8137
    assert seen["site"] == "http://localhost:8137"
    assert seen["PORT"] == "8137"


def test_site_url_that_is_set_stays(served, monkeypatch, settings):
    monkeypatch.setenv("SITE_URL", "https://shoes.example.org")
    settings.SITE_URL = "https://shoes.example.org"
    assert served("--port", "8137")["site"] == "https://shoes.example.org"
