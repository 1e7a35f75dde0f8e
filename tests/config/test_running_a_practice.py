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
# Daily jobs are instances of one unit, by the name of their command.
JOBS = re.search(r"for job in ([\w ]+); do\n\s+systemctl enable --now benchlast-job@\$job\.timer", SECTION)[1].split()
COMMANDS = [
    *re.findall(r"manage\.py (\w+)([^'`\n]*)", "\n".join(text for _, text in BLOCKS)),
    *((job, "") for job in JOBS),
]


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


def test_no_log_of_the_proxy_holds_a_link():
    from core.web.logs import SIGNED_LINK

    (proxy,) = [text for kind, text in BLOCKS if kind == "nginx"]
    hidden = re.findall(r"^    ~(\S+)\s+/", proxy, re.MULTILINE)
    quiet = re.search(r"location ~ (\S+) \{\s+error_log /dev/null", proxy)[1]
    for address in ("/f/some-signed:token/", "/welcome/12/some-token/"):
        assert SIGNED_LINK.search(address)
        assert any(re.match(pattern, address) for pattern in hidden)
        assert re.match(quiet, address)
    logged = re.search(r"log_format (\w+) (.*?);", proxy, re.DOTALL)
    assert f"access_log /var/log/nginx/benchlast.log {logged[1]};" in proxy
    assert set(re.findall(r"\$(\w+)", logged[2])).isdisjoint({"request", "request_uri", "uri", "http_referer", "args"})


def test_every_pin_of_the_server_is_the_one_that_was_tested():
    def pins(name):
        return set(re.findall(r"^(\S+==\S+)", (ROOT / name).read_text(), re.MULTILINE))

    assert pins("requirements-serving.txt") < pins("requirements.txt")
    assert not [pin for pin in pins("requirements-serving.txt") if pin.startswith(("pytest", "playwright", "mypy"))]
