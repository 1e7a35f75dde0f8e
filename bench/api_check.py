"""Requests made up from the API's own schema, as each role, against a served demo: no 5xx, answers as it says.

Run with ``make api-check``, which installs schemathesis into an environment of its own, or with
``python -m bench.api_check --program PATH``. What a rule refuses although the schema would allow it (another store's
fitting, a file that is not CSV) is no fault and not checked.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import urllib.request
from pathlib import Path

from bench.measure import ROOT
from bench.served import demo_practice, served

ROLES = ("visitor", "fitter", "technician", "reviewer", "manager", "office")
SEED = 20_260_101


def schema_of(url: str, folder: Path) -> Path:
    """Store the schema as JSON."""
    request = urllib.request.Request(f"{url}/api/schema/", headers={"Accept": "application/json"})
    with urllib.request.urlopen(request, timeout=60) as answer:
        text = answer.read()
    json.loads(text)
    path = folder / "schema.json"
    path.write_bytes(text)
    return path


def token_of(role: str, environment: dict[str, str]) -> str:
    command = [sys.executable, "manage.py", "issue_token", role, "--label", "api-check"]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=True)
    return done.stdout.split()[-1]


def check(program: str, schema: Path, url: str, *, headers: list[str], examples: int) -> bool:
    """Run the requests of one role; whether nothing was wrong."""
    options = ["--phases", "fuzzing", "--max-examples", str(examples), "--seed", str(SEED), "--no-color"]
    options += ["--generation-deterministic", "--suppress-health-check", "all", "--warnings", "off"]
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
            failed = []
            for role in options.roles:
                print(f"\n== {role}", flush=True)
                token = [] if role == "visitor" else ["--header", f"Authorization: Token {token_of(role, environment)}"]
                if not check(options.program, schema, url, headers=token, examples=options.examples):
                    failed.append(role)
    if failed:
        sys.exit(f"The API did not do as its schema says for: {', '.join(failed)}.")


if __name__ == "__main__":
    main()
