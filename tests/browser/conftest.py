"""The demo practice, served, and a Chromium that looks at it."""

from __future__ import annotations

import os
import re
import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.own_practice import ROOT, OwnPractice, served

# The one without windows of its own opens a page in a third of the time.
CHROMIUM = next(filter(None, map(shutil.which, ("chromium-headless-shell", "chromium", "chromium-browser"))), None)
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


@pytest.fixture(scope="session")
def practice(django_db_setup, tmp_path_factory):
    """Load the small demo practice into a database of its own and serve it."""
    from fixtures.stages.base import DEMO_PASSWORD

    own = OwnPractice.open(tmp_path_factory, "practice")
    # A demo that ended months ago: every fitting of it has a follow-up that is due, whatever today is.
    own.manage("load_demo", "--small", "--today=2026-04-01")
    with served(own) as url:
        yield Practice(url, DEMO_PASSWORD, ROOT / "fixtures" / "samples")
    assert "The audit trail is intact" in own.manage("verify_audit")
    own.server.cleanup()


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


@pytest.fixture(scope="session")
def sign_in_as(practice):
    """Return a function that signs a person in: by the form the first time, then by the session of that time."""
    cookies = {}

    def enter(page, username):
        if username not in cookies:
            page.goto("/sign-in/")
            page.get_by_label("User name").fill(username)
            page.get_by_label("Password").fill(practice.password)
            page.get_by_role("button", name="Sign in").click()
            page.wait_for_url(lambda url: "/sign-in/" not in url)
            cookies[username] = page.context.cookies()
        page.context.add_cookies(cookies[username])

    return enter


@pytest.fixture
def signed_in(visit, sign_in_as):
    """Return a function that opens a window with a person signed in."""

    def enter(username, **options):
        page = visit(**options)
        sign_in_as(page, username)
        return page

    return enter


@pytest.fixture
def window(chromium, practice, sign_in_as):
    """Return a function that opens a signed-in window in which the connection may fail; other errors fail the test."""
    contexts, problems = [], []

    def open_for(username="fitter", **options):
        context = chromium.new_context(base_url=practice.url, viewport={"width": 820, "height": 1180}, **options)
        context.set_default_timeout(30_000)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda problem: problems.append(str(problem)))
        page.on("console", lambda said: problems.append(said.text) if said.type == "error" else None)
        sign_in_as(page, username)
        return page

    yield open_for
    for context in contexts:
        context.close()
    assert [problem for problem in problems if not EXPECTED.search(problem)] == []
