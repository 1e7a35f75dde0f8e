"""A bad environment stops the start with a message that says how to mend it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured

from config import env

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(("value", "expected"), [("1", True), ("Yes", True), ("off", False), ("", True)])
def test_flag_reads_usual_words(monkeypatch, value, expected):
    monkeypatch.setenv("X_FLAG", value)
    assert env.flag("X_FLAG", default=True) is expected


def test_flag_names_what_it_takes(monkeypatch):
    monkeypatch.setenv("X_FLAG", "maybe")
    with pytest.raises(ImproperlyConfigured, match=r"X_FLAG must be one of .*'maybe'"):
        env.flag("X_FLAG", default=False)


@pytest.mark.parametrize("value", ["many", "-1", "11", "1.5"])
def test_integer_names_its_range(monkeypatch, value):
    monkeypatch.setenv("X_NUMBER", value)
    with pytest.raises(ImproperlyConfigured, match="X_NUMBER must be a whole number from 0 to 10"):
        env.integer("X_NUMBER", 5, low=0, high=10)


def test_integer_and_words_and_folder_have_defaults(monkeypatch):
    for name in ("X_NUMBER", "X_WORDS", "X_FOLDER"):
        monkeypatch.delenv(name, raising=False)
    assert env.integer("X_NUMBER", 5, low=0, high=10) == 5
    assert env.words("X_WORDS", ["a"]) == ["a"]
    assert env.folder("X_FOLDER", ROOT) == ROOT


def test_words_are_split_at_commas(monkeypatch):
    monkeypatch.setenv("X_WORDS", "one, two,,three ")
    assert env.words("X_WORDS", []) == ["one", "two", "three"]


def test_required_text_says_so(monkeypatch):
    monkeypatch.delenv("X_TEXT", raising=False)
    with pytest.raises(ImproperlyConfigured, match="X_TEXT is not set"):
        env.text("X_TEXT")


def _settings(**environment):
    kept = {name: value for name, value in os.environ.items() if name in {"PATH", "HOME", "LANG"}}
    return subprocess.run(
        [sys.executable, "-c", "import config.settings as s; print(s.DEBUG, s.DATABASES['default']['NAME'])"],
        cwd=ROOT,
        env={**kept, **environment},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize(
    ("environment", "message"),
    [
        ({"DEBUG": "0"}, "DATABASE_URL is required when DEBUG is off"),
        ({"DATABASE_URL": "postgres://u@h/d"}, "SECRET_KEY is not set"),
        ({"DATABASE_URL": "postgres://u@h/d", "SECRET_KEY": "x" * 49}, "SECRET_KEY must have at least 50 characters"),
        ({"DATABASE_URL": "mysql://u@h/d", "SECRET_KEY": "x" * 50}, "must name a PostgreSQL server"),
    ],
)
def test_settings_refuse_what_would_be_unsafe(environment, message):
    done = _settings(**environment)
    assert done.returncode == 1
    assert message in done.stderr


def test_a_database_url_alone_turns_debug_off():
    done = _settings(DATABASE_URL="postgres://u@h/practice", SECRET_KEY="x" * 60)
    assert done.stdout.split() == ["False", "practice"], done.stderr
