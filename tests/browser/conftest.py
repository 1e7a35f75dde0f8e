"""The demo practice served as `make demo` serves it, and a Chromium that looks at it."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
# The one without windows of its own opens a page in a third of the time.
CHROMIUM = next(filter(None, map(shutil.which, ("chromium-headless-shell", "chromium", "chromium-browser"))), None)
START_SECONDS = 60
EXPECTED = re.compile(r"Failed to load resource|htmx:(sendError|afterRequest|responseError|timeout|sendAbort)")


def pytest_collection_modifyitems(items):
    """Mark the browser tests, and say it where Chromium is missing."""
    for item in items:
        if Path(__file__).parent not in item.path.parents:
            continue
        item.add_marker(pytest.mark.browser)
        if CHROMIUM is None and not os.environ.get("REQUIRE_CHROMIUM"):
            item.add_marker(pytest.mark.skip(reason="Chromium is not installed (Debian: apt-get install chromium)"))


@dataclass(frozen=True)
class Practice:
    """A served demo practice."""

    url: str
    password: str
    samples: Path


def _free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _manage(environment, *words):
    done = subprocess.run(
        [sys.executable, "manage.py", *words], cwd=ROOT, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@contextlib.contextmanager
def _serving(environment, port):
    server = subprocess.Popen(
        [sys.executable, "manage.py", "serve", f"--port={port}", "--workers=1"], cwd=ROOT, env=environment
    )
    try:
        deadline = time.monotonic() + START_SECONDS
        while True:
            with contextlib.suppress(OSError):
                if urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=5).status == 200:
                    break
            assert server.poll() is None, "the server stopped while starting"
            assert time.monotonic() < deadline, f"the server did not answer within {START_SECONDS} s"
            time.sleep(0.2)
        yield
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(timeout=20)


@pytest.fixture(scope="session")
def practice(tmp_path_factory):
    """Migrate, load the small demo practice and serve it, on a database of its own."""
    from fixtures.stages.base import DEMO_PASSWORD

    port = _free_port()
    environment = {
        **os.environ,
        "BENCHLAST_DATA": str(tmp_path_factory.mktemp("practice")),
        "DEBUG": "1",
        "PORT": str(port),
    }
    environment.pop("DATABASE_URL", None)
    _manage(environment, "migrate", "--verbosity=0")
    # A demo that ended months ago: every fitting of it has a follow-up that is due, whatever today is.
    _manage(environment, "load_demo", "--small", "--today=2026-04-01")
    with _serving(environment, port):
        yield Practice(f"http://127.0.0.1:{port}", DEMO_PASSWORD, ROOT / "fixtures" / "samples")
    assert "The audit trail is intact" in _manage(environment, "verify_audit")


@pytest.fixture(scope="module")
def chromium():
    """Chromium, stopped after each file: its event loop would stand in the way of other files' database tests."""
    from playwright.sync_api import sync_playwright

    assert CHROMIUM, "Chromium is required here (Debian: apt-get install chromium)"
    quiet = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
    calm = ["--disable-background-networking", "--disable-component-update", "--disable-sync"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=[*quiet, *calm])
        yield browser
        browser.close()


@pytest.fixture
def visit(chromium, practice):
    """Return a function that opens a fresh browser window: `visit(width=…)`; it fails on any script error."""
    contexts = []
    problems = []

    def window(width=1280, height=900, **options):
        context = chromium.new_context(base_url=practice.url, viewport={"width": width, "height": height}, **options)
        context.set_default_timeout(10_000)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda problem: problems.append(str(problem)))
        page.on("console", lambda message: problems.append(message.text) if message.type == "error" else None)
        return page

    yield window
    for context in contexts:
        context.close()
    assert problems == []


@pytest.fixture
def signed_in(visit, practice):
    """Return a function that opens a window with a person signed in."""

    def enter(username, **options):
        page = visit(**options)
        page.goto("/sign-in/")
        page.get_by_label("User name").fill(username)
        page.get_by_label("Password").fill(practice.password)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(lambda url: "/sign-in/" not in url)
        return page

    return enter


@pytest.fixture
def window(chromium, practice):
    """Return a function that opens a signed-in window in which the connection may fail; other errors fail the test."""
    contexts, problems = [], []

    def open_for(username="fitter", **options):
        context = chromium.new_context(base_url=practice.url, viewport={"width": 820, "height": 1180}, **options)
        context.set_default_timeout(30_000)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda problem: problems.append(str(problem)))
        page.on("console", lambda said: problems.append(said.text) if said.type == "error" else None)
        page.goto("/sign-in/")
        page.get_by_label("User name").fill(username)
        page.get_by_label("Password").fill(practice.password)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(lambda url: "/sign-in/" not in url)
        return page

    yield open_for
    for context in contexts:
        context.close()
    assert [problem for problem in problems if not EXPECTED.search(problem)] == []
