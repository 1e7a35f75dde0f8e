"""Requests made up from the API's own schema, as each role, against a served demo: no 5xx, answers as it says.

Run by ``make api-check``, which installs schemathesis into an environment of its own, by ``.ci/run`` with few requests,
or by ``python -m bench.api_check --program PATH``. What a rule refuses although the schema would allow it (another
store's fitting, a file that is not CSV) is no fault and not checked.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import urllib.request
from pathlib import Path

from bench.measure import ROOT
from bench.served import demo_practice, served

ROLES = ("visitor", "fitter", "technician", "reviewer", "manager", "office")
# A machine that does much else is slow, which is no fault of the API.
REQUEST_TIMEOUT_S = 120


def schema_of(url: str, folder: Path) -> Path:
    """Store the schema as JSON."""
    request = urllib.request.Request(f"{url}/api/schema/", headers={"Accept": "application/json"})
    with urllib.request.urlopen(request, timeout=60) as answer:
        text = answer.read()
    json.loads(text)
    path = folder / "schema.json"
    path.write_bytes(text)
    return path


TOKENS = """
import sys
import django
django.setup()
from django.core.management import call_command
for role in sys.argv[1:]:
    call_command("issue_token", role, label="api-check")
"""


def tokens_of(roles: list[str], environment: dict[str, str]) -> dict[str, str]:
    """Issue a token to an account of each role, in one process: most of what it costs is its start."""
    command = [sys.executable, "-c", TOKENS, *roles]
    given = environment | {"DJANGO_SETTINGS_MODULE": "config.settings"}
    done = subprocess.run(command, cwd=ROOT, env=given, capture_output=True, text=True, check=True)
    return dict(zip(roles, (line.split()[-1] for line in done.stdout.splitlines() if line.strip()), strict=True))


def check(program: str, schema: Path, url: str, *, headers: list[str], examples: int) -> bool:
    """Run the requests of one role; whether nothing was wrong."""
    # The same requests each time, so that a change fails by what it did and not by chance.
    options = ["--phases", "fuzzing", "--max-examples", str(examples), "--generation-deterministic", "--no-color"]
    options += ["--suppress-health-check", "all", "--warnings", "off", "--request-timeout", str(REQUEST_TIMEOUT_S)]
    command = [program, "run", str(schema), "--url", url, "--exclude-checks", "positive_data_acceptance"]
    return subprocess.run([*command, *options, *headers], cwd=schema.parent, check=False).returncode == 0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--program", default="schemathesis", help="where schemathesis is installed")
    parser.add_argument("--examples", type=int, default=10, help="requests for each operation and role")
    parser.add_argument("--roles", nargs="*", default=ROLES, choices=ROLES)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="benchlast-") as folder:
        environment = demo_practice(Path(folder)) | {"API_VISITOR_REQUESTS_PER_MINUTE": "0"}
        with served(environment) as url:
            schema = schema_of(url, Path(folder))
            tokens = tokens_of([role for role in options.roles if role != "visitor"], environment)
            failed = []
            for role in options.roles:
                print(f"\n== {role}", flush=True)
                headers = ["--header", f"Authorization: Token {tokens[role]}"] if role in tokens else []
                if not check(options.program, schema, url, headers=headers, examples=options.examples):
                    failed.append(role)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(f"\nProcessor time without the database's: {used.ru_utime + used.ru_stime:.0f} s.")
    if failed:
        sys.exit(f"The API did not do as its schema says for: {', '.join(failed)}.")


if __name__ == "__main__":
    main()
