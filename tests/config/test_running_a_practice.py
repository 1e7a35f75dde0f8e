"""README's "Running a practice": its settings, commands, units and proxy are those that the program has."""

from __future__ import annotations

import os
import re
import secrets
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import get_commands, load_command_class

from tests.databases import own_database

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
SECTION = README.split("## Running a practice")[1].split("\n## ")[0]
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", SECTION, re.DOTALL)
SETTINGS = dict(
    line.split("=", 1) for text in [text for kind, text in BLOCKS if kind == "ini"][:1] for line in text.splitlines()
)
COMMANDS = re.findall(r"manage\.py (\w+)([^'\n]*)", "\n".join(text for _, text in BLOCKS))


def test_section_has_what_the_other_tests_read():
    assert {kind for kind, _ in BLOCKS} == {"sql", "sh", "ini", "nginx"}
    assert "DATABASE_URL" in SETTINGS
    assert {"migrate", "serve", "make_account", "backup", "send_follow_ups", "apply_retention"} <= {
        name for name, _ in COMMANDS
    }


@pytest.mark.parametrize("name", SETTINGS)
def test_every_setting_is_in_the_table_of_settings(name):
    table = README.split("## Settings")[1]
    assert f"`{name}`" in table


@pytest.mark.parametrize(("name", "options"), COMMANDS, ids=[name for name, _ in COMMANDS])
def test_every_command_takes_the_options_it_is_given(name, options):
    command = load_command_class(get_commands()[name], name)
    parser = command.create_parser("manage.py", name)
    # A day of the week, which the shell puts into the name of a backup.
    assert parser.parse_args(options.replace("$$(date +%%u)", "1").split()) is not None


def test_settings_pass_the_deployment_check(django_db_setup, tmp_path):
    with own_database() as url:
        given = SETTINGS | {
            "DATABASE_URL": url,
            "SECRET_KEY": secrets.token_urlsafe(50),
            "BENCHLAST_DATA": str(tmp_path),
            "STATIC_ROOT": str(tmp_path / "static"),
        }
        done = subprocess.run(
            [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"],
            cwd=ROOT,
            env={"PATH": os.environ["PATH"], **given},
            capture_output=True,
            text=True,
            check=False,
        )
    assert done.returncode == 0, done.stderr


def test_proxy_sends_the_headers_that_the_settings_trust():
    (proxy,) = [text for kind, text in BLOCKS if kind == "nginx"]
    for header in ("Host $host", "X-Forwarded-For $remote_addr", "X-Forwarded-Proto $scheme"):
        assert f"proxy_set_header {header};" in proxy
    most = int(re.search(r"client_max_body_size (\d+)m", proxy)[1])
    from django.conf import settings

    assert most * 1024 * 1024 > settings.UPLOAD_MAX_BYTES


def test_statements_name_the_role_that_the_application_works_as(settings):
    (statements,) = [text for kind, text in BLOCKS if kind == "sql"]
    assert f"CREATE ROLE {settings.APPLICATION_ROLE} NOLOGIN" in statements
    assert f"GRANT {settings.APPLICATION_ROLE} TO benchlast_owner, benchlast WITH SET TRUE" in statements
