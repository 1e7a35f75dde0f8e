"""A demo practice and a server of it, for checks and benches that work from outside."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bench.measure import ROOT

START_SECONDS = 600


def manage(environment: dict[str, str], *words: str) -> None:
    subprocess.run([sys.executable, "manage.py", *words], cwd=ROOT, env=environment, check=True)


def demo_practice(folder: Path) -> dict[str, str]:
    """Load the small demo into an embedded database of its own; returns the environment of processes on it."""
    environment = os.environ | {"BENCHLAST_DATA": str(folder / "data"), "DEBUG": "1", "LOG_LEVEL": "ERROR"}
    environment.pop("DATABASE_URL", None)
    manage(environment, "migrate", "--verbosity", "0")
    manage(environment, "load_demo", "--small")
    return environment


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def answers(url: str) -> bool:
    try:
        with urllib.request.urlopen(url, timeout=10):
            return True
    except urllib.error.HTTPError:
        return False
    except OSError:
        return False


@contextmanager
def served(environment: dict[str, str], *, port: int | None = None, workers: int = 2) -> Iterator[str]:
    """Serve a practice; gives its address."""
    port = port or free_port()
    process = start_server(environment, port, workers)
    try:
        wait_for(f"http://127.0.0.1:{port}/healthz")
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait()


def start_server(environment: dict[str, str], port: int, workers: int = 2) -> subprocess.Popen[bytes]:
    command = [sys.executable, "manage.py", "serve", "--port", str(port), "--workers", str(workers)]
    return subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def wait_for(url: str, seconds: float = START_SECONDS) -> None:
    until = time.monotonic() + seconds
    while not answers(url):
        if time.monotonic() > until:
            sys.exit(f"{url} did not answer within {seconds:.0f} s.")
        time.sleep(0.5)
