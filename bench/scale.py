"""More than one machine, on one machine: a primary, two replicas, a pooler and two servers, and each of them killed.

Run with ``make scale``. Visitors read public pages from both servers, as a balancer would let them: a request that one
server does not answer goes to the other. Fitters save sections at the same time and send a saving again until it is
acknowledged. pgbouncer is used where it is installed (or ``--pgbouncer PATH``), and shares four connections of the
primary among all clients, transaction by transaction.

What is reported: statements that visitors' requests ran on the primary (0), the time until a correction is seen by
visitors (95 % within 1 s), visitors' errors while a worker, a server, a replica and the primary are killed (0), the
time until fittings can be saved again, and savings that were lost or stored twice (0).
"""

from __future__ import annotations

import argparse
import http.client
import itertools
import json
import os
import secrets
import shutil
import signal
import tempfile
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

from bench.measure import Line, percentile, report
from bench.scale_parts import Pooler, Server, prepare_login
from bench.served import demo_practice, wait_for

PUBLIC = ("/", "/?band=2", "/api/catalogue/shoes/", "/api/catalogue/bands/", "/api/catalogue/stores/")
UNAVAILABLE = 503
# As long as README's proxy waits. Clients, servers and databases share the cores of one machine, so there is a queue.
PATIENCE_S = 120


@dataclass
class Crowd:
    """Visitors and fitters at work, and what happened to them, by the phase that was going on."""

    ports: list[int]
    phase: str = "start"
    is_over: bool = False
    public: Counter[tuple[str, bool]] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    answers: Counter[tuple[str, int]] = field(default_factory=Counter)
    waited: defaultdict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    saved_at: list[float] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    threads: list[threading.Thread] = field(default_factory=list)

    def start(self, work: Callable[..., None], *given: object) -> None:
        thread = threading.Thread(target=work, args=given, daemon=True)
        self.threads.append(thread)
        thread.start()

    def end(self) -> None:
        self.is_over = True
        for thread in self.threads:
            thread.join(PATIENCE_S)

    def read(self, path: str, first: int) -> int:
        """Return the status of a public page from the server that answers, otherwise the last refusal's, or 0."""
        status = 0
        for turn in range(len(self.ports)):
            port = self.ports[(first + turn) % len(self.ports)]
            line = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
            try:
                line.request("GET", path)
                answer = line.getresponse()
                answer.read()
                status = answer.status
                if status < UNAVAILABLE:
                    return status
            except (OSError, http.client.HTTPException):
                continue
            finally:
                line.close()
        return status

    def visit(self, number: int, pause: float) -> None:
        for turn in itertools.count(number):
            if self.is_over:
                return
            phase, path, begin = self.phase, PUBLIC[turn % len(PUBLIC)], time.monotonic()
            status = self.read(path, turn)
            self.waited[phase].append(time.monotonic() - begin)
            self.public[phase, status == http.HTTPStatus.OK] += 1
            if status != http.HTTPStatus.OK:
                self.problems.append(f"{phase}: {path} {status} after {time.monotonic() - begin:.0f} s")
            time.sleep(pause)

    def fit(self, fitter: object, number: int, pause: float) -> None:
        from bench.load import HELD, REFUSED, SETTLED, person, sections

        written = itertools.chain([("person", person(number))], *(sections(turn) for turn in range(number, 10_000)))
        for turn, (name, content) in enumerate(written):
            status, tries = 0, 0
            while status not in (SETTLED, HELD, REFUSED):
                if self.is_over:
                    return
                status = self.save(fitter, name, content, self.ports[(turn + tries) % len(self.ports)])
                if status not in (SETTLED, HELD, REFUSED):
                    # The same saving again, not a new one: whether the first was stored is not known.
                    fitter.edits -= 1
                    tries += 1
                    self.refused[self.phase] += 1
                    self.answers[self.phase, status] += 1
                    time.sleep(1.0)
            self.saved_at.append(time.monotonic())
            time.sleep(pause)

    @staticmethod
    def save(fitter: object, name: str, content: dict[str, str], port: int) -> int:
        line = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
        try:
            return fitter.save(line, name, content)
        except (OSError, http.client.HTTPException, TypeError):
            return 0
        finally:
            line.close()


def statements_at_the_primary(log: Path, before: int) -> int:
    """Count what the application, not the watch over replicas, ran there since a place in the server's log.

    The pooler passes a client's name on in a statement of its own, before the client's.
    """
    with log.open("rb") as file:
        file.seek(before)
        return sum(
            line.startswith((b"benchlast|LOG:  statement", b"benchlast|LOG:  execute"))
            and b"statement: SET application_name" not in line
            for line in file
        )


def staleness(crowd: Crowd, rounds: int) -> list[float]:
    """Correct a published shoe at the primary, and measure the seconds until who asks for it is shown it.

    How long the answer then takes is another matter: on a busy machine most of that is the queue of the server.
    """
    from catalogue.models import Shoe
    from catalogue.services import shoe_correct
    from core.models import User

    slug = json.loads(_get(crowd.ports[0], "/api/catalogue/shoes/"))["results"][0]["slug"]
    actor, shoe = User.objects.get(username="technician"), Shoe.objects.get(slug=slug)
    seconds = []
    for turn in range(rounds):
        mass = 200 + turn
        shoe = shoe_correct(actor=actor, shoe=shoe, changes={"mass_g": mass}, reason="Weighed again.")
        begin = asked = time.monotonic()
        while asked - begin < 30 and not _reads(crowd.ports[turn % 2], shoe.slug, mass):
            time.sleep(0.05)
            asked = time.monotonic()
        seconds.append(asked - begin)
    return seconds


def _reads(port: int, slug: str, mass: int) -> bool:
    return json.loads(_get(port, f"/api/catalogue/shoes/{slug}/"))["mass_g"] == mass


def _get(port: int, path: str) -> bytes:
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    line.request("GET", path)
    answer = line.getresponse().read()
    line.close()
    return answer


def while_killed(crowd: Crowd, what: str, seconds: float, kill: Callable[[], None], back: Callable[[], None]) -> float:
    """Kill something under load, bring it back, and return the seconds from then until a fitting was saved."""
    crowd.phase = what
    kill()
    time.sleep(seconds / 2)
    back()
    begin = time.monotonic()
    while time.monotonic() - begin < PATIENCE_S and not any(at > begin for at in crowd.saved_at[-50:]):
        time.sleep(0.05)
    waited = time.monotonic() - begin
    time.sleep(seconds / 2)
    return waited


def serving_environment(folder: Path, primary: str, replicas: list[str], pooling: str) -> dict[str, str]:
    given = {
        "BENCHLAST_DATA": str(folder / "serving"),
        # Static files are not looked at: collecting them would take most of the start.
        "STATIC_MANIFEST": "0",
        "DATABASE_URL": primary,
        "DATABASE_POOLING": pooling,
        "DATABASE_REPLICA_URLS": ",".join(replicas),
        "DEBUG": "0",
        "SECRET_KEY": secrets.token_urlsafe(64),
        "ALLOWED_HOSTS": "127.0.0.1",
        "SECURE_SSL_REDIRECT": "0",
        "API_VISITOR_REQUESTS_PER_MINUTE": "0",
        "LOG_REQUESTS": "0",
        "LOG_LEVEL": "CRITICAL",
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }
    return os.environ | given


def run(options: argparse.Namespace, folder: Path, stack: ExitStack) -> None:
    from config import embedded
    from tests.clusters import copy_of

    data = Path(options.demo).resolve() if options.demo else folder / "data"
    if not options.demo:
        demo_practice(folder)
    begin = time.monotonic()
    embedded.start(data)
    # A server that no process of the application stops.
    primary = stack.enter_context(copy_of({"host": str(_socket_of(data)), "user": "postgres"}))
    prepare_login(primary)
    replicas = [stack.enter_context(copy_of(primary.address, follows=True)) for _ in range(2)]
    pooler = stack.enter_context(Pooler(options.pgbouncer, primary, folder)) if options.pgbouncer else None
    addresses = [cluster.url("benchlast").replace("postgres@", "benchlast@") for cluster in (primary, *replicas)]
    address, pooling = (pooler.url, "transaction") if pooler else (addresses[0], "session")
    environment = serving_environment(folder, address, addresses[1:], pooling)
    os.environ.update(environment)
    import django

    django.setup()
    from django.db import connections

    from bench.load import faults, fitters

    servers = [stack.enter_context(Server(environment)) for _ in range(2)]
    for server in servers:
        wait_for(f"{server.url}/readyz")
    print(f"Set up in {time.monotonic() - begin:.0f} s; pooler: {'pgbouncer' if pooler else 'none'}.", flush=True)

    crowd = Crowd([server.port for server in servers])
    for number in range(options.visitors):
        crowd.start(crowd.visit, number, 1.0)
    time.sleep(5)  # every worker reads the catalogue once
    log = primary.folder / "log"
    before, crowd.phase = log.stat().st_size, "visitors alone"
    time.sleep(options.seconds)
    at_primary = statements_at_the_primary(log, before)
    late = staleness(crowd, options.rounds)
    members = [one for (one,) in fitters(each=1)[: options.fitters]]
    for number, member in enumerate(members):
        crowd.start(crowd.fit, member, number, 2.0)
    crowd.phase = "fitters too"
    time.sleep(options.seconds)
    waits = {
        "worker": while_killed(crowd, "worker", options.seconds, servers[0].kill_a_worker, lambda: None),
        "server": while_killed(crowd, "server", options.seconds, servers[0].kill, servers[0].start),
        "replica": while_killed(crowd, "replica", options.seconds, replicas[0].stop, replicas[0].start),
        "primary": while_killed(crowd, "primary", options.seconds, primary.stop, primary.start),
    }
    crowd.end()
    # Opened before the primary was killed.
    connections.close_all()
    print(f"The primary's log counts {statements_at_the_primary(log, 0)} statements of the application in all.")
    tell(crowd, at_primary, late, waits, faults([[member] for member in members]))


def _socket_of(data: Path) -> str:
    return (data / "postgres" / "postmaster.pid").read_text().splitlines()[4]


def tell(crowd: Crowd, at_primary: int, late: list[float], waits: dict[str, float], wrong: list[str]) -> None:
    asked = crowd.public["visitors alone", True]
    p95 = percentile(late, 0.95)
    lines = [
        Line(f"statements at the primary by {asked} public requests", at_primary, "", None, "0", at_primary == 0),
        Line("a correction is shown to visitors who ask, p95", p95, "s", None, "<= 1", p95 <= 1),
        Line("visitors wait for an answer, median", percentile(crowd.waited["visitors alone"], 0.5), "s"),
    ]
    for what, waited in waits.items():
        errors, fine = crowd.public[what, False], crowd.public[what, True]
        lines.append(Line(f"{what} killed: public errors of {errors + fine}", errors, "", None, "0", errors == 0))
        lines.append(Line(f"{what} killed: visitors wait, p95", percentile(crowd.waited[what], 0.95), "s"))
        lines.append(Line(f"{what} back: until a fitting is saved", waited, "s"))
        lines.append(Line(f"{what} killed: savings to be sent again", crowd.refused[what], ""))
    lines.append(Line(f"savings lost or doubled of {len(crowd.saved_at)}", len(wrong), "", None, "0", not wrong))
    report("A primary, two replicas, two servers of two workers, each killed under load", lines)
    print(f"Answers to savings that were sent again: {dict(crowd.answers)}")
    for problem in [*wrong, *crowd.problems[:10]]:
        print(problem)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=10.0, help="of each phase")
    parser.add_argument("--visitors", type=int, default=20)
    parser.add_argument("--fitters", type=int, default=5, help="at most 50")
    parser.add_argument("--rounds", type=int, default=15, help="corrections of which the delay is measured")
    parser.add_argument("--demo", default="", help="a data folder with a demo to copy; one is loaded without")
    parser.add_argument("--pgbouncer", default=shutil.which("pgbouncer") or "", help="its program; none without one")
    options = parser.parse_args()
    # Ctrl+C and kill end the servers as well.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with tempfile.TemporaryDirectory(prefix="benchlast-") as name, ExitStack() as stack:
        folder = Path(name)
        folder.chmod(0o755)
        run(options, folder, stack)


if __name__ == "__main__":
    main()
